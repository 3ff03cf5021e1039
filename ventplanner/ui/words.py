"""Numbers and states in words, as the window writes them."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

from ventplanner.app.directions import SIDES, side
from ventplanner.parameters import Direction
from ventplanner.ui.units import area, exact_length, figure, length, shown_unit, volume

if TYPE_CHECKING:
    from ventplanner.ui.picture import ShownCavity

__all__ = [
    "SIDES",
    "STATE_WORDS",
    "area",
    "count",
    "exact_mm",
    "file_name",
    "left_words",
    "looked_from",
    "mm",
    "place",
    "side",
    "size",
    "title_of",
    "volume",
]

mm, exact_mm = length, exact_length
"""A length in mm as it is shown, in the unit that the user chose; `exact_mm` as it was typed."""

LEAST_DEG, STEEP_DEG = 0.5, 85.0
"""A smaller angle is not told; and what is steeper is from above or below."""

STATE_WORDS = {"sealed": "sealed", "late": "opens late", "breathing": "breathes"}


def left_words(cavity: ShownCavity) -> str:
    """State of a cavity that is left as it is: what it does is not hidden by that."""
    if cavity.state == "late" and cavity.late_mm > 0:
        return f"left, opens {mm(cavity.late_mm)} late"
    return f"left, {STATE_WORDS[cavity.state]}"


def size(low: list[float], high: list[float]) -> str:
    """The extents of a box."""
    return f"{' × '.join(figure(b - a) for a, b in zip(low, high, strict=True))} {shown_unit('mm')}"


def place(point: tuple[float, ...]) -> str:
    """The coordinates of a point with their unit."""
    return f"({', '.join(figure(x) for x in point)}) {shown_unit('mm')}"


def count(number: int, one: str, many: str = "") -> str:
    """ "1 cavity", "3 cavities"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def file_name(path: str) -> str:
    """The last part of a path, on one line."""
    return " ".join(Path(path).name.split())


def title_of(path: str) -> str:
    """A file's name as a heading: no folder and no ending."""
    return " ".join(Path(path).stem.split()) or "Part"


def looked_from(direction: Direction | None) -> str:
    """From where a part is looked at, in words: (0, -1, 0.2) is "from the front, 11° above"."""
    if direction is None:
        return "from all sides"
    x, y, z = direction
    around, above = math.degrees(math.atan2(x, -y)), math.degrees(math.atan2(z, math.hypot(x, y)))
    if abs(above) > STEEP_DEG:
        return "from above" if above > 0.0 else "from below"
    quarter = round(around / 90.0)
    beside = around - 90.0 * quarter
    told = f"from the {('front', 'right', 'back', 'left')[quarter % 4]}"
    if abs(beside) >= LEAST_DEG:
        to = ("right", "back", "left", "front")[(quarter if beside > 0.0 else quarter + 2) % 4]
        told += f", {abs(beside):.0f}° to the {to}"
    if abs(above) >= LEAST_DEG:
        told += f", {abs(above):.0f}° {'above' if above > 0.0 else 'below'}"
    return told
