"""Paper: pages of the book typeset as PDF. Knows no rows, only plain data."""
