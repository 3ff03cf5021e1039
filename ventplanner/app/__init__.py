"""The application without a window: the work at hand, its edits and their history."""
