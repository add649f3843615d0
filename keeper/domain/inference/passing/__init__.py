"""What other books are told of an animal, and what they tell: evidence that travels."""
