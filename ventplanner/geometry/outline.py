"""The cross-section of a drill: round, a slot with round ends, or square; any of them as a convex polygon."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from ventplanner.geometry.cylinder import PHASE, across, corner_radius, segments_for
from ventplanner.geometry.solid import FloatArray

Shape = Literal["round", "slot", "square"]

HAIR_RAD, HAIR_MM = 1.3e-4, np.array([7.3e-5, -4.1e-5])

LANE_STEP = 0.25
"""Round lanes that cover a slot lie this share of its half width apart: they miss less than 1 % of that."""


@dataclass(frozen=True)
class Outline:
    """What a drill looks like along its axis. How wide it is (diameter, width of the slot, side of the square) is told
    apart, as `radius`, half of that in mm.

    length_mm: of a slot, over its round ends; 0 otherwise. along: direction of a slot's long side or of a side of the
    square; what of it lies along the drill's axis does not count; (0, 0, 0) of a round one.
    """

    shape: Shape = "round"
    length_mm: float = 0.0
    along: tuple[float, float, float] = (0.0, 0.0, 0.0)

    @property
    def is_round(self) -> bool:
        """Whether it is a circle."""
        return self.shape == "round"

    def straight(self, radius: float) -> float:
        """mm of a slot's straight sides."""
        return max(self.length_mm - 2.0 * radius, 0.0) if self.shape == "slot" else 0.0

    def far(self, radius: float) -> float:
        """mm from the axis to the furthest point."""
        if self.shape == "square":
            return math.sqrt(2.0) * radius
        return radius + 0.5 * self.straight(radius)

    def area(self, radius: float) -> float:
        """mm2 of the true section."""
        if self.shape == "square":
            return 4.0 * radius**2
        return math.pi * radius**2 + 2.0 * radius * self.straight(radius)

    def grown(self, by: float) -> Outline:
        """The outline that stands `by` mm outside all round, with a radius that is larger by as much."""
        return replace(self, length_mm=self.length_mm + 2.0 * by) if self.shape == "slot" else self

    def frame(self, axis: FloatArray) -> FloatArray:
        """(2, 3) unit vectors u, v across a unit axis, (u, v, axis) right-handed; u along the long side."""
        if not self.is_round:
            u = np.asarray(self.along) - np.dot(self.along, axis) * axis
            size = float(np.linalg.norm(u))
            if size > 1e-9:
                return np.array([u / size, np.cross(axis, u / size)])
        return np.array(across(axis))

    def corners(self, radius: float) -> FloatArray:
        """(n, 2) mm, the polygon that is drilled, counter-clockwise in the frame; it has the area of the section."""
        return _corners(self.shape, self.straight(radius), radius)

    def sides(self, radius: float) -> tuple[FloatArray, FloatArray]:
        """Outward normals (n, 2) and offsets (n,) mm of the polygon's sides, from each corner to the next."""
        corners = self.corners(radius)
        way = np.roll(corners, -1, axis=0) - corners
        normals = np.stack([way[:, 1], -way[:, 0]], axis=1) / np.linalg.norm(way, axis=1, keepdims=True)
        return normals, np.einsum("ij,ij->i", normals, corners)

    def rim(self, radius: float, count: int) -> FloatArray:
        """(count, 2) points along the polygon, its corners among them; count: at least that of its corners."""
        return _rim(self.shape, self.straight(radius), radius, count)

    def lanes(self, radius: float) -> tuple[tuple[float, float, float], ...]:
        """Circles (two coordinates in the frame, radius) that cover it but for a hair: what comes near them comes near
        it. Of a square up to a tenth of the radius is missed in its corners."""
        if self.shape == "square":
            small, inset = 0.25 * radius, 0.75 * radius
            steps = np.linspace(-inset, inset, 8)
            edge = [(float(s), inset) for s in steps]
            rim = [q for x, y in edge for q in ((x, y), (x, -y), (y, x), (-y, x))]
            return ((0.0, 0.0, radius), *((x, y, small) for x, y in rim))
        straight = self.straight(radius)
        count = 1 + math.ceil(straight / (LANE_STEP * radius)) if straight > 0.0 else 1
        offsets = np.linspace(-0.5 * straight, 0.5 * straight, count) if count > 1 else np.zeros(1)
        return tuple((float(x), 0.0, radius) for x in offsets)

    def beyond_middle(self, p: FloatArray, q: FloatArray, radius: float) -> FloatArray:
        """How far points with these coordinates in the frame lie off its middle, mm: at most `radius` within the true
        section. From the axis of a round one, from the middle line of a slot, by the further coordinate in a square."""
        if self.shape == "square":
            return np.maximum(np.abs(p), np.abs(q))
        return np.hypot(np.maximum(np.abs(p) - 0.5 * self.straight(radius), 0.0), q)


ROUND = Outline()


def level_of(outwards: FloatArray) -> FloatArray:
    """(2, 3) directions across a hole in build axes: level and to the right as seen from outside, and upwards from
    there. An upright hole has build x as the first."""
    right = np.array([-outwards[1], outwards[0], 0.0])
    size = float(np.linalg.norm(right))
    right = right / size if size > 1e-6 else np.array([1.0, 0.0, 0.0]) - outwards[0] * outwards
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(outwards, right)])


def turned_outline(shape: Shape, length_mm: float, turn_deg: float, outwards: FloatArray) -> Outline:
    """An outline in build axes whose long side is turned from the level, anticlockwise seen from outside."""
    if shape == "round":
        return ROUND
    right, up = level_of(outwards)
    angle = math.radians(turn_deg)
    x, y, z = (math.cos(angle) * right + math.sin(angle) * up).tolist()
    return Outline(shape, length_mm if shape == "slot" else 0.0, (x, y, z))


def turn_of(outline: Outline, outwards: FloatArray) -> float:
    """Degrees by which an outline in build axes is turned from the level: 0 up to 180 of a slot, up to 90 of a square,
    0 of a round one."""
    if outline.is_round:
        return 0.0
    right, up = level_of(outwards)
    along = np.asarray(outline.along)
    found = math.degrees(math.atan2(float(along @ up), float(along @ right)))
    whole = 180.0 if outline.shape == "slot" else 90.0
    found = round(found % whole, 9)
    return 0.0 if whole - found < 1e-6 else found


@lru_cache(maxsize=64)
def _corners(shape: Shape, straight: float, radius: float) -> FloatArray:
    if shape == "square":
        return _aside(radius * np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]]))
    n = segments_for(radius)
    if shape == "round" or straight <= 0.0:
        angle = (np.arange(n) + PHASE) * (2.0 * math.pi / n)
        return _frozen(corner_radius(radius, n) * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    n = 4 * math.ceil(n / 4)
    angle = (np.arange(n) + 0.5) * (2.0 * math.pi / n)
    # Corners at such a distance R that the polygon has the slot's area: a R^2 + 2 s cos(pi / n) R = pi r^2 + 2 s r.
    a, b = 0.5 * n * math.sin(2.0 * math.pi / n), 2.0 * straight * math.cos(math.pi / n)
    area = math.pi * radius**2 + 2.0 * straight * radius
    size = (math.sqrt(b * b + 4.0 * a * area) - b) / (2.0 * a)
    points = size * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    points[:, 0] += np.where(points[:, 0] > 0.0, 0.5, -0.5) * straight
    return _aside(points)


@lru_cache(maxsize=64)
def _rim(shape: Shape, straight: float, radius: float, count: int) -> FloatArray:
    corners = _corners(shape, straight, radius)
    way = np.roll(corners, -1, axis=0) - corners
    size = np.linalg.norm(way, axis=1)
    pieces = np.ones(len(corners), dtype=np.int64)
    for _ in range(count - len(corners)):
        pieces[int(np.argmax(size / pieces))] += 1
    side = np.repeat(np.arange(len(corners)), pieces)
    share = (np.arange(count) - np.repeat(np.cumsum(pieces) - pieces, pieces)) / pieces[side]
    return _frozen(corners[side] + share[:, None] * way[side])


def _aside(points: FloatArray) -> FloatArray:
    """A tenth of a micron aside and turned: corners on round figures else fall on a model's edges, and whether those
    are cut is nobody's guess."""
    c, s = math.cos(HAIR_RAD), math.sin(HAIR_RAD)
    return _frozen(points @ np.array([[c, s], [-s, c]]) + HAIR_MM)


def _frozen(points: FloatArray) -> FloatArray:
    points.flags.writeable = False
    return points
