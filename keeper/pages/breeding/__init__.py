"""Pages of the way of a clutch."""
