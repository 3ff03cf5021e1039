"""The sphere of directions to the plate on two round maps, bottom and top, side by side. Numpy only.

Lambert's azimuthal equal-area projection (Snyder 1987, "Map projections: a working manual", USGS Professional Paper
1395, eqs. 24-1 to 24-6, polar aspect): equal patches of the sphere are equal patches of paper. The middle of the left
disc is the file's bottom (-z), that of the right one its top; on both right is +x and up is +y, so that their rims are
the same directions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point

Paper = tuple[float, float]
BOTTOM, TOP = 0, 1


@dataclass(frozen=True)
class Discs:
    """Where the two maps are. radius: of each, in pixels; left, right: their middles."""

    radius: float
    left: Paper
    right: Paper

    def middle(self, disc: int) -> Paper:
        """The middle of the bottom's disc or the top's."""
        return self.left if disc == BOTTOM else self.right

    def to_paper(self, direction: Point) -> tuple[int, Paper]:
        """On which disc a unit vector is, and where."""
        x, y, z = direction
        disc = TOP if z > 0.0 else BOTTOM
        wide = self.radius * math.sqrt(max(0.0, 1.0 - abs(z)))
        level = math.hypot(x, y)
        share = wide / level if level > 1e-12 else 0.0
        a, b = self.middle(disc)
        return disc, (a + share * x, b - share * y)

    def to_direction(self, x: float, y: float) -> Point | None:
        """The unit vector under a place on the paper; None outside both discs."""
        for disc in (BOTTOM, TOP):
            a, b = self.middle(disc)
            right, up = (x - a) / self.radius, (b - y) / self.radius
            if right * right + up * up <= 1.0:
                one = directions_of(np.array([right]), np.array([up]), disc)[0]
                return float(one[0]), float(one[1]), float(one[2])
        return None


def directions_of(right: FloatArray, up: FloatArray, disc: int) -> FloatArray:
    """(n, 3) unit vectors of places of a disc of radius 1; those outside count as on its rim."""
    square = right * right + up * up
    outside = square > 1.0
    scale = np.where(outside, 1.0 / np.sqrt(np.where(outside, square, 1.0)), 1.0)
    right, up, square = right * scale, up * scale, np.minimum(square, 1.0)
    level = np.sqrt(2.0 - square)
    z = (1.0 - square) * (1.0 if disc == TOP else -1.0)
    return np.stack([right * level, up * level, z], axis=1)


def cells(to_plate: FloatArray, pixels: int, disc: int) -> NDArray[np.int32]:
    """(pixels, pixels) number of the nearest of some directions, (n, 3), for each pixel of a disc's square."""
    middle = (np.arange(pixels) + 0.5) * 2.0 / pixels - 1.0
    right, up = np.meshgrid(middle, -middle)
    found = np.empty(pixels * pixels, dtype=np.int32)
    seen = directions_of(right.ravel(), up.ravel(), disc).astype(np.float32)
    among = to_plate.astype(np.float32).T
    step = max(1, 2_000_000 // max(1, among.shape[1]))
    for start in range(0, len(seen), step):
        found[start : start + step] = np.argmax(seen[start : start + step] @ among, axis=1)
    return found.reshape(pixels, pixels)


def stepped(to_plate: FloatArray, at: int, right: float, up: float, discs: Discs) -> int:
    """The direction that is next to one of them towards a side of the paper; itself if none is.

    Of those within 45° of that side the nearest on the paper, if need be on the other disc.
    """
    _, start = discs.to_paper(_point(to_plate[at]))
    best, least = at, math.inf
    for k, vector in enumerate(to_plate):
        _, (x, y) = discs.to_paper(_point(vector))
        dx, dy = x - start[0], start[1] - y
        far = math.hypot(dx, dy)
        if 1e-6 < far < least and dx * right + dy * up >= 0.707 * far:
            best, least = k, far
    return best


def _point(vector: FloatArray) -> Point:
    return float(vector[0]), float(vector[1]), float(vector[2])
