"""Input: what a form accepts and how it says no."""
