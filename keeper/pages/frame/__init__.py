"""What every page shares; it knows no area."""
