"""What pages ask about seasons to come, over whole families at once."""
