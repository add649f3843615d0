"""The whole book as one file, and an archive back into an empty book."""
