"""What sources say, and their papers."""
