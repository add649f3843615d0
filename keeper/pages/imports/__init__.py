"""Bringing in a table of animals, from the file to its entry."""
