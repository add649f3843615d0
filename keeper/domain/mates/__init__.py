"""To what an animal could be bred: mates here, for one of the book or one typed in words."""
