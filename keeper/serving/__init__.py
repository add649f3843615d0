"""Serving the book from a keeper's own machine: environment, addresses, TLS, server."""
