"""Projects and who is held back for them."""
