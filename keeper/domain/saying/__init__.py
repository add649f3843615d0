"""What is said and drawn of a standing, on pages and sheets alike."""
