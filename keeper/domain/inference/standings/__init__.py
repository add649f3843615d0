"""Standings: computed from rows, compared with what is stored, written."""
