"""Papers that travel: what comes with them, and bringing it in."""
