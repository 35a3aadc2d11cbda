"""levelling."""
