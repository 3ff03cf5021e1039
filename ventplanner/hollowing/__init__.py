"""Hollowing: from a solid part to one with an even wall."""
