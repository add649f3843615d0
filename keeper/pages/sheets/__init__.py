"""Sale sheets."""
