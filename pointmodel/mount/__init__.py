"""mount."""
