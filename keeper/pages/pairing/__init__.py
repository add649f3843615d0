"""The pairing look-up."""
