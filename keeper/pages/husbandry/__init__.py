"""What is done for animals: noted one by one and in rounds."""
