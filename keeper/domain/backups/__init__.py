"""Copies of the whole book, made while it runs, and the way back from one.

| file | holds |
|---|---|
| `epoch` | which life of the book this is; rests on rows alone |
| `troubles` | what can be wrong with a copy, or with making one |
| `facts`, `dumps` | what a database holds in figures; PostgreSQL's own programs |
| `databases` | a database copied out, and a copied one checked |
| `archive` | one file with the database, the pictures and a manifest, every byte of it covered |
| `sealing` | the same, encrypted with a passphrase |
| `shelf` | folders, how often, how many, and what was made: kept beside the book, not in it |
| `rotation` | which of the copies are kept |
| `making` | a copy made, opened again, and only then called good |
| `looking` | a copy opened: what it holds, and what of it |
| `pouring`, `pictures` | a copied database, and its pictures, put in place of the present ones |
| `restoring` | the way back as a whole |
| `checking` | every check of every record anew |
"""
