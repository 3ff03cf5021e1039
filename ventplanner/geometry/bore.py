"""A round tool as a convex body: what of a line is inside it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.cylinder import PHASE, across, corner_radius, segments_for
from ventplanner.geometry.solid import FloatArray

LongArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Bore:
    """A round tool: from `start` to `end` (mm), `radius` as for `cylinder`."""

    start: tuple[float, float, float]
    end: tuple[float, float, float]
    radius: float

    @property
    def length(self) -> float:
        """Length in mm."""
        return math.dist(self.start, self.end)

    @property
    def outer_radius(self) -> float:
        """Radius through the corners of the tool's polygon."""
        return corner_radius(self.radius, segments_for(self.radius))

    @property
    def inner_radius(self) -> float:
        """Radius of the circle inside the tool's polygon."""
        return self.outer_radius * math.cos(math.pi / segments_for(self.radius))

    @property
    def axes(self) -> FloatArray:
        """(3, 3): the axes of the tool's own frame as rows, two across and then along."""
        axis = np.subtract(self.end, self.start) / self.length
        return np.array([*across(axis), axis])

    def place(self, points: FloatArray) -> FloatArray:
        """Points (…, 3) mm in the tool's own frame: two coordinates across the axis, and how far along from start."""
        frame: FloatArray = (points - np.asarray(self.start)) @ self.axes.T
        return frame

    def planes(self, frame: Bore) -> tuple[FloatArray, FloatArray]:
        """The planes n . x = d around the tool, in the frame of another: outward normals (f, 3), offsets (f,) mm."""
        n = segments_for(self.radius)
        angle = (np.arange(n) + 0.5 + PHASE) * (2.0 * math.pi / n)
        sides = np.stack([np.cos(angle), np.sin(angle), np.zeros(n)], axis=1)
        normals = np.vstack([sides, [[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]]])
        offsets = np.append(np.full(n, self.inner_radius), [0.0, self.length])
        if self is frame:
            return normals, offsets
        turned = normals @ (frame.axes @ self.axes.T).T
        return turned, offsets + turned @ frame.place(np.asarray(self.start))


def clip(
    start: FloatArray, way: FloatArray, normals: FloatArray, offsets: FloatArray, use: BoolArray | None = None
) -> tuple[FloatArray, FloatArray, LongArray, LongArray]:
    """Where the lines start + t way are inside all planes: t from, t to, and the planes there (Cyrus and Beck 1978).

    Nothing is inside where from >= to. use: (lines, planes) bool, the planes that count.
    """
    speed = way @ normals.T
    room = offsets - start @ normals.T
    with np.errstate(divide="ignore", invalid="ignore"):
        at = room / speed
    never = (speed == 0.0) & (room <= 0.0)
    enters, leaves = speed < 0.0, speed > 0.0
    if use is not None:
        never, enters, leaves = never & use, enters & use, leaves & use
    since, until = np.where(enters, at, -np.inf), np.where(leaves, at, np.inf)
    since[never] = np.inf
    first, last = since.argmax(axis=1), until.argmin(axis=1)
    rows = np.arange(len(start))
    return since[rows, first], until[rows, last], first, last
