"""Laboratories and their results."""
