"""Who is paired with whom in a season."""
