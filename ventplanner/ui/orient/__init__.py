"""The orientations that a search found: the map of directions, the short list, and the card that has both."""
