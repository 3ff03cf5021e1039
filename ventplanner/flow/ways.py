"""Ways that resin or air can take: throats of the part and planned vents, with the section that is printed so far."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ventplanner.analysis.rooms import Rooms
from ventplanner.analysis.throats import Throat
from ventplanner.geometry.outline import ROUND, Outline, Shape
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.ducts import Section, circle, part_circle, part_slot, part_square, rectangle, slot

SLIT = 1.5
"""A way this many times as long across as it is wide is a slit, and no round hole."""


SLICES = 32
"""Slices of a flared entry: with so many its resistance is within 1 % of the integral up to three times as wide."""

UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class Way:
    """A conductor between rooms a and b (0: the outside). Lengths in mm, heights are build heights.

    width: of the largest ball that passes, as it prints if that is known. span: across in the longer direction. length:
    of the hole. low, high: heights between which it is printed. outer: height of the end that lies in b. name: of a
    vent; "" for an opening or throat of the part. shape: of a vent that is no round hole; tilt: sines of the angles
    between the sides of its section (the longer one first) and the level.
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
    shape: Shape = "round"
    tilt: tuple[float, float] = (0.0, 1.0)

    def section(self, height: float) -> Section:
        """What of the section is printed when the film is at a height (SI units)."""
        if self.high <= self.low:  # an upright one without length is there from its height on
            share = 1.0 if height >= self.high else 0.0
        else:
            share = min(max((height - self.low) / (self.high - self.low), 0.0), 1.0)
        if self.shape != "round":
            return _shaped(self.shape, float(self.width), float(self.span), self.tilt, float(share))
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


@lru_cache(maxsize=1 << 15)
def _shaped(shape: Shape, width: float, span: float, tilt: tuple[float, float], share: float) -> Section:
    """As `_section`, of a slot or a square that is turned."""
    rise, other = tilt
    if share >= 1.0:
        return whole_section(shape, width, span)
    if shape == "slot":
        high = width + max(span - width, 0.0) * rise
        return part_slot(0.001 * width, 0.001 * span, rise, 0.001 * share * high)
    high = 0.001 * width * (rise + other)
    return part_square(0.001 * width, high, share * high)


@dataclass(frozen=True)
class Hole:
    """A planned vent in build axes: entry from outside and exit into the hollow (mm), and its diameter in mm.

    A passage enters from the hollow that it leads to; knee: where its two legs meet, None where it is straight.
    outline: in build axes; of a slot the diameter is its width. flare: width and depth in mm of a countersunk entry.
    """

    name: str
    entry: tuple[float, float, float]
    exit: tuple[float, float, float]
    diameter: float
    knee: tuple[float, float, float] | None = None
    outline: Outline = ROUND
    flare: tuple[float, float] | None = None

    @property
    def span(self) -> float:
        """mm across in the longer direction."""
        return max(self.outline.length_mm, self.diameter)

    def resisting(self, length: float) -> float:
        """mm: how long a hole of its narrow section resists like it. length: of its axis.

        The flared entry resists as many thin slices, each by its own section (slow flow; lubrication theory)."""
        if self.flare is None:
            return length
        wide, depth = self.flare[0] - self.diameter, min(self.flare[1], length)
        shares = (np.arange(SLICES) + 0.5) / SLICES
        shape, across, along = self.outline.shape, self.diameter, self.span
        narrow = whole_section(shape, across, along).duct
        slices = [narrow / whole_section(shape, across + s * wide, along + s * wide).duct for s in shares.tolist()]
        return length - depth + depth * float(np.mean(slices)) if wide > 0.0 else length

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
            off = throat.at - start - share * along
            u, v = self.outline.frame(along / max(float(np.linalg.norm(along)), 1e-12))
            ahead = float(np.linalg.norm(off - (off @ u) * u - (off @ v) * v))
            beside = float(self.outline.beyond_middle(off @ u, off @ v, 0.5 * self.diameter))
            apart.append(math.hypot(ahead, beside))
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
    tilt, across = _tilt(hole, axis)
    reach = 0.5 * (across * flat + length * abs(float(axis[2])))
    middle = 0.5 * float(entry[2] + exit_[2])
    resisting, outside = hole.resisting(length), float(entry[2])
    return Way(
        inner, outer, hole.diameter, hole.span, resisting, middle - reach, middle + reach, outside, hole.name,
        hole.outline.shape, tilt,
    )  # fmt: skip


def _tilt(hole: Hole, axis: FloatArray) -> tuple[tuple[float, float], float]:
    """Of the section of a straight hole: sines of its sides against the level, and how high it is, in its own plane."""
    flat = math.sqrt(max(0.0, 1.0 - float(axis[2]) ** 2))
    if hole.outline.is_round or flat < 1e-6:
        return (0.0, 1.0), hole.diameter
    u, v = hole.outline.frame(axis)
    rise, other = (round(min(abs(float(side[2])) / flat, 1.0), 6) for side in (u, v))
    if hole.outline.shape == "square":
        return (rise, other), hole.diameter * (rise + other)
    return (rise, other), hole.diameter + (hole.span - hole.diameter) * rise


def whole_section(shape: Shape, width: float, span: float) -> Section:
    """A complete hole of this width and span in mm (SI units)."""
    if shape == "slot":
        return slot(0.001 * width, 0.001 * span)
    return rectangle(0.001 * width, 0.001 * width) if shape == "square" else circle(0.001 * width)


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
