"""What a pixel of a layer can be, in words: the numbers of `ventplanner.printed.engine`, without loading it."""

from __future__ import annotations

MATERIAL, OUTSIDE, BREATHING, SEALED, CURED = range(5)

WORDS = {
    MATERIAL: "material",
    OUTSIDE: "outside",
    BREATHING: "breathing void",
    SEALED: "sealed void",
    CURED: "cured by accident",
}
"""The states in words, in the order of the legend."""
