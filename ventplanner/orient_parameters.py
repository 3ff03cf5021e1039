"""The choices of the search for an orientation, declared once, as those in `parameters`. Standard library only."""

from __future__ import annotations

from typing import Any, Literal

from ventplanner.parameters import Parameter

Resting = Literal["both", "plate", "supports"]

RESTING = Parameter[Resting](
    "resting",
    "--resting",
    "how the part may rest",
    "",
    "choice",
    "both",
    "whether orientations flat on the plate, on supports, or both are looked at",
    choices=("both", "plate", "supports"),
)
CANDIDATES = Parameter[int](
    "candidates",
    "--candidates",
    "length of the short list",
    "",
    "int",
    5,
    "orientations that are worked out in full, at most",
    lowest=1,
    highest=20,
)

ORIENT_PARAMETERS: dict[str, Parameter[Any]] = {p.name: p for p in (RESTING, CANDIDATES)}
