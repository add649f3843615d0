"""Pedigrees: who is drawn, and where. `layout` and what it rests on know neither rows nor pages."""
