"""The book's rows and what they are in the words of `genetics`."""
