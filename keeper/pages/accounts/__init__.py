"""Accounts: who may write in the book, and how a book begins."""
