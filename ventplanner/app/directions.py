"""Directions in plain words: an axis, or the nearest axis and how far and whereto it is tilted."""

from __future__ import annotations

import math
import re

from ventplanner.plan.model import Point

ALSO = 0.5
"""A tilt leans towards a second axis, too, if its share is at least so much of the first one's."""


SIDES = {"−Z": "bottom", "+Z": "top", "−X": "left", "+X": "right", "−Y": "front", "+Y": "back"}
"""The sides of a part as it stands in its file, by the axis that points out of them."""

_AXIS = re.compile("[+−][XYZ]")


def side(to_plate: Point) -> str:
    """The side of the part in this direction, "bottom (−Z)", or "bottom (−Z), tilted 37° towards right (+X)"."""
    return _AXIS.sub(lambda axis: f"{SIDES[axis[0]]} ({axis[0]})", in_words(to_plate))


def in_words(direction: Point) -> str:
    """A direction along the file's axes, of any length but 0: "−Z", or "+Z, tilted 37° towards +X"."""
    length = math.hypot(*direction)
    parts = sorted(zip("XYZ", (v / length for v in direction), strict=True), key=lambda part: -abs(part[1]))
    nearest = _signed(*parts[0])
    if abs(parts[0][1]) > 1 - 1e-9:
        return nearest
    off = math.degrees(math.acos(min(1.0, abs(parts[0][1]))))
    leaning = [part for part in parts[1:] if abs(part[1]) >= ALSO * abs(parts[1][1])]
    towards = " and ".join(_signed(*part) for part in sorted(leaning))
    return f"{nearest}, tilted {off:.0f}° towards {towards}" if off >= 0.95 else f"{nearest}, tilted {off:.1g}°"


def _signed(axis: str, value: float) -> str:
    return f"{'+' if value > 0 else '−'}{axis}"
