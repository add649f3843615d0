"""Labels: what they are printed on, printing them, and where a scanned one leads."""
