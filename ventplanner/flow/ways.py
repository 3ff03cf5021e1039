"""Ways that resin or air can take: throats of the part and planned vents, with the section that is printed so far."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ventplanner.analysis.rooms import Rooms
from ventplanner.analysis.throats import Throat
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.ducts import Section, part_circle, rectangle

SLIT = 1.5
"""A way this many times as long across as it is wide is a slit, and no round hole."""


UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class Way:
    """A conductor between rooms a and b (0: the outside). Lengths in mm, heights are build heights.

    width: of the largest ball that passes, as it prints if that is known. span: across in the longer direction. length:
    of the hole. low, high: heights between which it is printed. outer: height of the end that lies in b. name: of a
    vent; "" for an opening or throat of the part.
    """

    a: int
    b: int
    width: float
    span: float
    length: float
    low: float
    high: float
    outer: float
    name: str = ""

    def section(self, height: float) -> Section:
        """What of the section is printed when the film is at a height (SI units)."""
        if self.high <= self.low:  # an upright one without length is there from its height on
            share = 1.0 if height >= self.high else 0.0
        else:
            share = min(max((height - self.low) / (self.high - self.low), 0.0), 1.0)
        return _section(float(self.width), float(self.span), float(share))

    def as_printed(self, width: float) -> Way:
        """The same way with the width that it prints with; the span shrinks by as much."""
        return replace(self, width=max(width, 0.0), span=max(self.span - (self.width - width), width, 0.0))


@lru_cache(maxsize=1 << 15)
def _section(width: float, span: float, share: float) -> Section:
    """Of a way of this width and span in mm, the lower share. Asked for again and again while vents are sized."""
    if span > SLIT * width:
        return rectangle(0.001 * span * share, 0.001 * width)
    return part_circle(0.001 * width, 0.001 * width * share)


@dataclass(frozen=True)
class Hole:
    """A planned vent in build axes: entry from outside and exit into the hollow (mm), and its diameter in mm.

    A passage enters from the hollow that it leads to; knee: where its two legs meet, None where it is straight.
    """

    name: str
    entry: tuple[float, float, float]
    exit: tuple[float, float, float]
    diameter: float
    knee: tuple[float, float, float] | None = None

    @property
    def stops(self) -> FloatArray:
        """(2 or 3, 3) points of its axis."""
        return np.array([p for p in (self.entry, self.knee, self.exit) if p is not None])

    def swallows(self, throat: Throat) -> bool:
        """Whether the narrowest place of a throat lies within the hole: then it is wider now, and no way beside it."""
        stops = self.stops
        apart = []
        for start, along in zip(stops, np.diff(stops, axis=0), strict=False):
            share = float(np.clip((throat.at - start) @ along / max(float(along @ along), 1e-12), 0.0, 1.0))
            apart.append(float(np.linalg.norm(throat.at - start - share * along)))
        return min(apart) < 0.5 * self.diameter


def way_of_throat(throat: Throat) -> Way:
    """The conductor that an existing opening or throat is."""
    outer = float(throat.at[2] + 0.5 * throat.length * throat.axis[2])
    return Way(
        throat.a, throat.b, throat.width, throat.span, throat.length, throat.low, throat.high, outer
    )  # fmt: skip


def way_of_hole(hole: Hole, rooms: Rooms) -> Way | None:
    """The conductor that a planned vent will be; None if it joins nothing that is apart."""
    if hole.knee is not None:
        return _bent_way(hole, rooms)
    entry, exit_ = np.asarray(hole.entry), np.asarray(hole.exit)
    length = float(np.linalg.norm(exit_ - entry))
    axis: FloatArray = (exit_ - entry) / length if length > 0 else np.array([0.0, 0.0, 1.0])
    # A narrow hole along a floor ends in a voxel of it: the room is a little above.
    inner = rooms.room_at(exit_, axis) or rooms.room_at(exit_, axis + UP)
    outer = rooms.room_at(entry, -axis)
    if inner == outer:
        return None
    flat = math.sqrt(max(0.0, 1.0 - float(axis[2]) ** 2))
    reach = 0.5 * (hole.diameter * flat + length * abs(float(axis[2])))
    middle = 0.5 * float(entry[2] + exit_[2])
    return Way(
        inner, outer, hole.diameter, hole.diameter, length, middle - reach, middle + reach, float(entry[2]), hole.name
    )


def _bent_way(hole: Hole, rooms: Rooms) -> Way | None:
    """One of two legs conducts like a straight one of their length (laminar flow; a bend adds next to nothing)."""
    legs = np.diff(hole.stops, axis=0)
    lengths = np.linalg.norm(legs, axis=1)
    first, last = legs / lengths[:, None]
    inner = rooms.room_at(np.asarray(hole.exit), last) or rooms.room_at(np.asarray(hole.exit), last + UP)
    outer = rooms.room_at(np.asarray(hole.entry), -first)
    if inner == outer:
        return None
    flat = math.sqrt(max(0.0, 1.0 - max(float(first[2]) ** 2, float(last[2]) ** 2)))
    height, around = hole.stops[:, 2], 0.5 * hole.diameter * flat
    low, high = float(height.min()) - around, float(height.max()) + around
    span, length = hole.diameter, float(lengths.sum())
    return Way(inner, outer, hole.diameter, span, length, low, high, float(hole.entry[2]), hole.name)
