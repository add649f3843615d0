"""The daybook."""
