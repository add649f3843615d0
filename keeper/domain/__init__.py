"""Writes and reads, a folder an area; `inference` alone knows `genetics`."""
