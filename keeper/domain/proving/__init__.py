"""Which possible carriers to test, and to whom."""
