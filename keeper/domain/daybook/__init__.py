"""The daybook as a journal: what was withdrawn and is brought back; `book/daybook.py` reads it."""
