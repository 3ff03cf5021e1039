"""The 3-D view of a part with its cavities and vents, and what it is made of."""
