"""Dialogs, where the desktop expects them."""
