"""diagnosis."""
