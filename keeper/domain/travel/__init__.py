"""Papers that travel: brought in from other books, and what they brought."""
