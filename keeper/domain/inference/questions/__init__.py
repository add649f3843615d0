"""What pages ask beside standings: pairs, goals, tests, lines."""
