"""Pure shape: solids, columns of material and void, and the cut."""
