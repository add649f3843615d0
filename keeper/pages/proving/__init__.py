"""Pages of what to prove."""
