"""Projects of which the truth is known, written and played through the book's own writes.

`drawn` draws a project and what its animals truly carry, by Mendel; `books` writes down what a
keeper sees, season by season; `keepers` decide, by what the book says alone; `told` compares.
"""
