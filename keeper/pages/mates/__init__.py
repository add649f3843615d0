"""What an animal could be bred to: of the book, or of somebody who asks."""
