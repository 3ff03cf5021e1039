"""The sizes of the test piece's holes, apart from what makes it, which takes a moment to load."""

SIZES_MM = (0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7, 0.8, 1.0, 1.2, 1.5)
"""Diameters in mm, from the first column to the last."""
