"""Writes, one file per activity; reads live in `domain/queries/`."""
