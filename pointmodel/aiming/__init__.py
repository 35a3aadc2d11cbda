"""aiming."""
