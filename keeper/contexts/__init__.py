"""Typed page data, so that templates only print."""
