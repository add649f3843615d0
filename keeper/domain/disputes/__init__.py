"""Records that cannot all be true, and what was unlikely."""
