"""The numbers of mending, declared once, as those in `parameters`. Standard library only."""

from __future__ import annotations

from typing import Any, Final

from ventplanner.parameters import Parameter

TOLERANCE_MM = Parameter[float](
    "tolerance_mm",
    "--tolerance",
    "tolerance of mending",
    "mm",
    "float",
    0.01,
    "what is nearer than this at an open edge belongs together: vertices, and vertices on edges",
    lowest=0.0,
    highest=1.0,
)
LARGEST_MM = Parameter[float | None](
    "largest_mm",
    "--largest-hole",
    "largest hole to be filled",
    "mm",
    "float",
    None,
    "holes in a skin that are wider stay open, and the part is refused",
    lowest=0.0,
    highest=10000.0,
    automatic="a third of the size of the skin",
)

MEND_PARAMETERS: dict[str, Parameter[Any]] = {x.name: x for x in (TOLERANCE_MM, LARGEST_MM)}

WELD: Final = "weld"
DUPLICATES: Final = "duplicates"
DEGENERATE: Final = "degenerate"
JUNCTIONS: Final = "junctions"
ORIENT: Final = "orient"
SPLIT: Final = "split"
LOOSE: Final = "loose"
HOLES: Final = "holes"
REDRAW: Final = "redraw"
NEST: Final = "nest"
UNTANGLE: Final = "untangle"
UNITE: Final = "unite"

STEPS: Final = {
    WELD: "joins vertices at open edges that lie within the tolerance",
    DUPLICATES: "removes faces that repeat another one, and double faces back to back",
    DEGENERATE: "removes faces without area",
    JUNCTIONS: "divides faces at vertices that lie on their open edges",
    ORIENT: "turns faces over that are wound against the rest of their skin",
    SPLIT: "parts skins that share an edge or a vertex, by a micrometre",
    LOOSE: "removes scraps that bound nothing",
    HOLES: "fills small holes so that the skin goes on smoothly",
    REDRAW: "draws broken skins anew that nothing else closes, if that is asked for, and tells what is lost",
    NEST: "turns whole skins over: bodies outward, cavities inward",
    UNTANGLE: "draws skins anew that go through themselves, and tells what that changes",
    UNITE: "makes bodies that overlap one, and takes away what is cut by a cavity",
}
"""Every step in the order in which they are taken, and what it does."""
