"""Pages of the season's pairings."""
