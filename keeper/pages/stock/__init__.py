"""Pages of the stock: what is for sale, on hold, sold."""
