"""Tests of the genetics package."""
