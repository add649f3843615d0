"""Long runs, started by hand: `python -m tests.load.writing`, `python -m tests.load.pages`."""
