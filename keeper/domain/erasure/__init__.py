"""A person taken out of the book: name, reach and notes give way to a number, for good.

What animals are and descend from stays, and every figure with it: only the words about the person
go, from rows, their histories, issued sheets and files. It cannot be taken back.

| module | what it does |
|---|---|
| `person.py` | a contact, with all that it was ever called and reached by |
| `columns.py` | which columns are searched for that, and why others are not |
| `searching.py` | where it stands, and what stands there afterwards |
| `files.py` | scans and tables of the person, among the media |
| `taking_out.py` | what would go, and how it goes |
| `apart.py` | the list of erasures, outside the book, and what it does at a restore |
| `sweeping.py` | what was deleted is overwritten in the database's file |
| `telling.py` | all that the book holds of a person, for them to have |
"""
