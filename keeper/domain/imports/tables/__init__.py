"""A table by itself: its file opened, its heads and columns, what single cells say."""
