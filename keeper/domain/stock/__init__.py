"""What is for sale, what was sold, and what it brought."""
