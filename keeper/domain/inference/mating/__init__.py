"""What an animal gives with each of many mates, and what they would prove of it."""
