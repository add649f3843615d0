"""Tests of the way of a clutch."""
