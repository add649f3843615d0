"""The addresses of the book, one file an area."""
