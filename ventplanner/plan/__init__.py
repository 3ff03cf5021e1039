"""What to do about it: vents, where they go, and the drilling."""
