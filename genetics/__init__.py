"""Exact inference of what animals carry, from a whole book of pedigrees and observations."""
