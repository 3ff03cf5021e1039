"""Which orientation needs least: every direction in coarse figures, and a short list worked out in full."""
