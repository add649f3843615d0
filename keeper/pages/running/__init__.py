"""For whoever runs the book for others: is it alive, is it ready, how does it do."""
