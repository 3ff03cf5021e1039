"""Numbers and states in words, as the window writes them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ventplanner.app.directions import SIDES, side
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
    "mm",
    "place",
    "side",
    "size",
    "title_of",
    "volume",
]

mm, exact_mm = length, exact_length
"""A length in mm as it is shown, in the unit that the user chose; `exact_mm` as it was typed."""

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
    """A point, without its unit."""
    return ", ".join(figure(x) for x in point)


def count(number: int, one: str, many: str = "") -> str:
    """ "1 cavity", "3 cavities"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def file_name(path: str) -> str:
    """The last part of a path, on one line."""
    return " ".join(Path(path).name.split())


def title_of(path: str) -> str:
    """A file's name as a heading: no folder and no ending."""
    return " ".join(Path(path).stem.split()) or "Part"
