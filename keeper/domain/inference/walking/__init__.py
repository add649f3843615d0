"""The book's rows read only as far as somebody walks."""
