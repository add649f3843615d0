"""The grounds of a number: each record weighed, and exact workings."""
