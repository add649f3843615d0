"""Tables of animals from elsewhere, brought in: read, understood, checked row by row, written.

| module | what it does |
|---|---|
| `tables/opening.py` | a process of its own that opens a workbook; loads nothing of ours |
| `tables/files.py`, `tables/plain.py` | a file's bytes → sheets of texts, within bounds |
| `tables/heads.py`, `tables/meanings.py` | where the heads are, and what a column means |
| `tables/days.py`, `tables/cells.py` | what a cell says: a day, a sex, a weight, a status |
| `table.py`, `choices.py` | an import's rows as mended, and what holds for all of them |
| `genes.py` | what the trade's shorthand says, with what the keeper answered |
| `rows.py` | what is known of a row: values, problems, its fate |
| `reading.py`, `naming.py`, `parents.py`, `clutches.py` | the dry run, step by step |
| `checking.py` | the whole dry run |
| `records.py`, `writes.py`, `running.py` | one entry of it, in the background |
| `ahead.py`, `copies.py` | worked out on a copy and put in; a copy of the book before |
| `changing.py`, `queries.py` | an import's own row |
"""
