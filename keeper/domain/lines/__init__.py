"""Two lines of one look: one gene or two."""
