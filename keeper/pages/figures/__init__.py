"""Figures of seasons and years: rates, what hatched against what was said, the own record."""
