"""The book: rows, pages and the project around them."""

# The product's name, here and nowhere else in code or templates.
NAME = "Keptlines"
