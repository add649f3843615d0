"""Animals that one thinks of buying."""
