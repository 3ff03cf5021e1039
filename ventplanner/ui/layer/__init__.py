"""The layer view: one layer of the print from above, at the printer's pixels."""
