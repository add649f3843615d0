"""Rows of selling: what is for sale and what it brought, and the sheets that go with it."""
