"""Pairings: what one comes to, and what stands against it."""
