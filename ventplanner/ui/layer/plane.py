"""Where the layer view looks: a point in its middle and a scale; and outlines of drills at a height. Qt-free."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.geometry.bore import Bore
from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.picture import ShownVent
from ventplanner.ui.view.drill_shape import hull

MARGIN_PX, FOOT_PX = 22.0, 38.0
"""Kept free round a part that is fitted; below it stands the scale."""

LEAST_MM_PER_PX, MOST_MM_PER_PX = 0.0005, 5.0
OUTLINE_POINTS = 33


@dataclass(frozen=True)
class Plane:
    """The part from above as it stands: x to the right, y (its back) up. x, y: build point in the middle, mm."""

    x: float = 0.0
    y: float = 0.0
    mm_per_px: float = 0.1
    width: int = 100
    height: int = 100

    def to_px(self, x: float, y: float) -> tuple[float, float]:
        """Pixel of a build point."""
        return 0.5 * self.width + (x - self.x) / self.mm_per_px, 0.5 * self.height - (y - self.y) / self.mm_per_px

    def to_mm(self, column: float, row: float) -> tuple[float, float]:
        """Build point of a pixel."""
        return (
            self.x + (column - 0.5 * self.width) * self.mm_per_px,
            self.y - (row - 0.5 * self.height) * self.mm_per_px,
        )

    def resized(self, width: int, height: int) -> Plane:
        """The same scale and middle in another window."""
        return replace(self, width=max(width, 1), height=max(height, 1))

    def panned(self, across: float, down: float) -> Plane:
        """The picture moved by pixels."""
        return replace(self, x=self.x - across * self.mm_per_px, y=self.y + down * self.mm_per_px)

    def zoomed(self, factor: float, column: float | None = None, row: float | None = None) -> Plane:
        """Enlarged by a factor; what is at this pixel (default: the middle) stays there."""
        column = 0.5 * self.width if column is None else column
        row = 0.5 * self.height if row is None else row
        scale = min(max(self.mm_per_px / factor, LEAST_MM_PER_PX), MOST_MM_PER_PX)
        x, y = self.to_mm(column, row)
        moved = replace(self, mm_per_px=scale)
        to_x, to_y = moved.to_mm(column, row)
        return replace(moved, x=self.x + x - to_x, y=self.y + y - to_y)

    def fitted(self, low: FloatArray, high: FloatArray) -> Plane:
        """A box (low and high build point) in the middle, as large as it goes."""
        room = max(self.width - 2.0 * MARGIN_PX, 8.0), max(self.height - MARGIN_PX - FOOT_PX, 8.0)
        scale = max(float(high[0] - low[0]) / room[0], float(high[1] - low[1]) / room[1], LEAST_MM_PER_PX)
        x, y = 0.5 * float(low[0] + high[0]), 0.5 * float(low[1] + high[1])
        scale = min(scale, MOST_MM_PER_PX)
        return replace(self, x=x, y=y - 0.5 * (FOOT_PX - MARGIN_PX) * scale, mm_per_px=scale)


def outline_at(vent: ShownVent, z: float) -> FloatArray | None:
    """(n, 2) outline in mm of a drill cut level at a build height; None where it is not at that height.

    With h the level direction of the axis u and s the way along h from the start, a point is in the cylinder when
    |s u_z - d u_h| and its distance across h make a radius at most r, and s u_h + d u_z lies within its length
    (d: height above the start): a convex piece, whose half width is exact at each s.
    """
    if not vent.outline.is_round:
        return level_cut(vent.bore, z)
    start, end = np.asarray(vent.start), np.asarray(vent.end)
    length = float(np.linalg.norm(end - start))
    u = (end - start) / length
    level = math.hypot(float(u[0]), float(u[1]))
    h = u[:2] / level if level > 1e-9 else np.array([1.0, 0.0])
    rise, radius, above = float(u[2]), 0.5 * vent.diameter, z - float(start[2])
    low, high = -math.inf, math.inf
    for factor, offset, least, most in ((rise, -above * level, -radius, radius), (level, above * rise, 0.0, length)):
        if abs(factor) < 1e-9:
            if not least <= offset <= most:
                return None
            continue
        ends = sorted(((least - offset) / factor, (most - offset) / factor))
        low, high = max(low, ends[0]), min(high, ends[1])
    if high - low <= 1e-9:
        return None
    s = 0.5 * (low + high) - 0.5 * (high - low) * np.cos(np.linspace(0.0, np.pi, OUTLINE_POINTS))
    half = np.sqrt(np.maximum(radius**2 - (s * rise - above * level) ** 2, 0.0))
    across = np.array([-h[1], h[0]])
    middle = start[:2] + s[:, None] * h
    outline: FloatArray = np.vstack((middle + half[:, None] * across, (middle - half[:, None] * across)[::-1]))
    return outline


def level_cut(bore: Bore, z: float) -> FloatArray | None:
    """(n, 2) outline in mm of the polygon of any drill at a build height; None where it is not at that height: the hull
    of where its edges cross the height, as it is convex."""
    first, last = bore.rings
    ends = [(first, last), *((ring, np.roll(ring, -1, axis=0)) for ring in (first, last))]
    low, high = (np.concatenate([pair[k] for pair in ends]) for k in (0, 1))
    crossed = (low[:, 2] > z) != (high[:, 2] > z)
    if not crossed.any():
        return None
    low, high = low[crossed], high[crossed]
    share = (z - low[:, 2]) / (high[:, 2] - low[:, 2])
    found = hull((low + share[:, None] * (high - low))[:, :2])
    return found if len(found) > 2 else None


def layer_of(height: float | None, top: float, layer_mm: float) -> int:
    """The last layer that is printed when the print has come to a build height (None: to its end), from 0."""
    count = layers_of(top, layer_mm)
    if height is None:
        return count - 1
    return min(max(math.ceil(height / layer_mm - 1e-6) - 1, 0), count - 1)


def layers_of(top: float, layer_mm: float) -> int:
    """Number of layers of a part of this height, mm."""
    return max(1, math.ceil(top / layer_mm - 1e-6))
