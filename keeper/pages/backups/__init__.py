"""Copies of the whole book: which there are, how they are made, and the way back from one."""
