"""People taken out of the book."""
