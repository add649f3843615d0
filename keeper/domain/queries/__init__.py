"""Reads: queryset to queryset, and small typed builders."""
