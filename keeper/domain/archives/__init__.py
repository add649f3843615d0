"""A whole book in one file that anybody can read, and back into an empty book.

| file | holds |
|---|---|
| `tables` | which tables and columns are in an archive, and what is left out and why |
| `values` | one value as JSON has it, and back, checked |
| `words`, `describing` | what every column means; the README.txt of an archive |
| `manifest` | the list of what is in an archive: written, read, refused |
| `making` | book → archive |
| `inside` | what an archive holds, before anything of it is taken: hashes, sizes, names |
| `opening` | archive → an empty book, all of it or nothing |
| `checking` | what is loaded is checked as if it had been entered |
| `pictures` | files that rows name: their names, and where they go |
"""
