"""Where the view looks from, and what that means in pixels: pure arithmetic, no Qt and no graphics library.

The projection is parallel. Pixels are logical ones, from the upper left corner of the view; a pixel's height in the
picture and a build height are tied by `Mapping` as long as the view is level.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point

Side = Literal["front", "back", "left", "right", "top", "bottom"]

SIDES: dict[Side, tuple[float, float]] = {
    "front": (0.0, 0.0),
    "back": (180.0, 0.0),
    "left": (-90.0, 0.0),
    "right": (90.0, 0.0),
    "top": (0.0, 90.0),
    "bottom": (0.0, -90.0),
}
"""Azimuth and elevation in degrees of each side."""

MOST_MM_PER_PX, LEAST_MM_PER_PX = 50.0, 0.0005

# The part turned over about the axis that points at the viewer: hanging is standing upside down, not mirrored.
_TURNED = np.diag([-1.0, 1.0, -1.0])


@dataclass(frozen=True)
class Mapping:
    """Which build heights the view shows: at its upper edge and at its lower edge, in mm, `pixels` apart.

    linked: True while the view is level, so that a build height is one row of pixels. If not, the heights tell
    nothing, and the chart shows the whole part instead.
    """

    height_at_top_px: float
    height_at_bottom_px: float
    linked: bool
    pixels: int

    def row(self, height: float) -> float:
        """Row of pixels of a build height in mm."""
        return (height - self.height_at_top_px) * self.pixels / (self.height_at_bottom_px - self.height_at_top_px)

    def height(self, row: float) -> float:
        """Build height in mm of a row of pixels."""
        return self.height_at_top_px + row * (self.height_at_bottom_px - self.height_at_top_px) / self.pixels

    @property
    def mm_per_px(self) -> float:
        """Size of a pixel in mm."""
        return abs(self.height_at_bottom_px - self.height_at_top_px) / self.pixels


@dataclass(frozen=True)
class Eye:
    """A parallel view. focus: build point in the middle of the view. width, height: pixels.

    azimuth: degrees about the build axis, 0 looks along +y. elevation: degrees above the horizon of the room, which
    is upside down for a hanging part. hanging: plate on top. stance: how the part is held after the print, rows of the
    rotation that brings build axes to those of the room; None: standing or hanging.
    """

    focus: Point = (0.0, 0.0, 0.0)
    mm_per_px: float = 0.2
    width: int = 400
    height: int = 400
    azimuth: float = 0.0
    elevation: float = 0.0
    hanging: bool = False
    stance: tuple[Point, Point, Point] | None = None

    @cached_property
    def axes(self) -> FloatArray:
        """(3, 3) unit build vectors: right, up, and towards the viewer."""
        a, e = np.radians((self.azimuth, self.elevation))
        right = np.array([np.cos(a), np.sin(a), 0.0])
        back = np.array([np.sin(a) * np.cos(e), -np.cos(a) * np.cos(e), np.sin(e)])
        if self.elevation == 0.0:
            back[2] = 0.0
        axes = np.array([right, np.cross(back, right), back])
        if self.stance is not None:
            return np.asarray(axes @ np.array(self.stance))
        return axes @ _TURNED if self.hanging else axes

    @property
    def is_level(self) -> bool:
        """True when a build height is a row of pixels."""
        return self.elevation == 0.0 and self.stance is None

    @property
    def sees_plate(self) -> bool:
        """True when the plate is more than a line, and the part is still at it."""
        return self.elevation != 0.0 and self.stance is None

    @property
    def mapping(self) -> Mapping:
        """How rows of pixels and build heights belong together."""
        half = 0.5 * self.height * self.mm_per_px * (-1.0 if self.hanging else 1.0)
        return Mapping(self.focus[2] + half, self.focus[2] - half, self.is_level, self.height)

    def to_screen(self, points: FloatArray) -> FloatArray:
        """(…, 3) build points to pixels x, y and the depth towards the viewer in mm."""
        seen: FloatArray = (np.asarray(points, dtype=np.float64) - np.asarray(self.focus)) @ self.axes.T
        seen[..., 0] = 0.5 * self.width + seen[..., 0] / self.mm_per_px
        seen[..., 1] = 0.5 * self.height - seen[..., 1] / self.mm_per_px
        return seen

    def under(self, x: float, y: float) -> FloatArray:
        """(3,) build point under a pixel, at the depth of the focus."""
        right, up, _ = self.axes
        across, above = (x - 0.5 * self.width) * self.mm_per_px, (0.5 * self.height - y) * self.mm_per_px
        return np.asarray(np.asarray(self.focus) + across * right + above * up)

    def resized(self, width: int, height: int) -> Eye:
        """The same scale in a window of another size; what was at the middle stays there."""
        return replace(self, width=max(1, width), height=max(1, height))

    def orbited(self, azimuth: float, elevation: float) -> Eye:
        """Turned by degrees."""
        turned = (self.azimuth + azimuth + 180.0) % 360.0 - 180.0
        return replace(self, azimuth=turned, elevation=float(np.clip(self.elevation + elevation, -90.0, 90.0)))

    def panned(self, right: float, down: float) -> Eye:
        """The picture moved by pixels."""
        across, up, _ = self.axes
        moved = np.asarray(self.focus) + self.mm_per_px * (down * up - right * across)
        return replace(self, focus=_point(moved))

    def zoomed(self, factor: float, x: float | None = None, y: float | None = None) -> Eye:
        """Enlarged by a factor; what is under the pixel (default: the middle) stays there."""
        size = float(np.clip(self.mm_per_px / factor, LEAST_MM_PER_PX, MOST_MM_PER_PX))
        x, y = 0.5 * self.width if x is None else x, 0.5 * self.height if y is None else y
        kept = self.under(x, y)
        moved = replace(self, mm_per_px=size)
        return replace(moved, focus=_point(np.asarray(self.focus) + kept - moved.under(x, y)))

    def fitted(
        self, low: FloatArray, high: FloatArray, margins: tuple[int, int, int, int], also: FloatArray | None = None
    ) -> Eye:
        """The box between two corners in the middle of what the margins (left, top, right, bottom in px) leave. also:
        (k, 3) build points that are to be seen, too."""
        corners = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
        middle = 0.5 * (low + high)
        if also is not None:
            corners = np.vstack((corners, also))
            seen = (corners - middle) @ self.axes.T
            middle = middle + 0.5 * (seen.min(axis=0) + seen.max(axis=0)) @ self.axes
        seen = (corners - middle) @ self.axes.T
        wide, tall = (float(np.ptp(seen[:, k])) for k in (0, 1))
        left, top, right, bottom = margins
        room = max(40, self.width - left - right), max(40, self.height - top - bottom)
        size = float(np.clip(max(wide / room[0], tall / room[1], 1e-6), LEAST_MM_PER_PX, MOST_MM_PER_PX))
        centred = replace(self, focus=_point(middle), mm_per_px=size)
        return centred.panned(0.5 * (left - right), 0.5 * (top - bottom))

    def levelled(self) -> Eye:
        """The same place and scale, with the horizon level."""
        return replace(self, elevation=0.0)

    def looking(self, side: Side) -> Eye:
        """From one side."""
        azimuth, elevation = SIDES[side]
        return replace(self, azimuth=azimuth, elevation=elevation)

    def turned_over(self, hanging: bool) -> Eye:
        """Standing or hanging: a level picture turns about its middle, and the same side of the part is seen."""
        return self if hanging == self.hanging else replace(self, hanging=hanging, azimuth=-self.azimuth)


def across(direction: FloatArray) -> FloatArray:
    """(2, 3) unit vectors square to a unit direction and to each other."""
    helper = np.zeros(3)
    helper[int(np.argmin(np.abs(direction)))] = 1.0
    first = np.cross(direction, helper)
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(direction, first)])


def _point(p: FloatArray) -> Point:
    return (float(p[0]), float(p[1]), float(p[2]))
