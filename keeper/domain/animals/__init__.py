"""Animals: entered, corrected, photographed, looked at."""
