"""Rows of care: what is done for animals, and where they are kept."""
