"""A drill as a convex body: what of a line is inside it, and its closed mesh."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import ParameterError
from ventplanner.geometry.outline import ROUND, Outline
from ventplanner.geometry.solid import FloatArray, IntArray

LongArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Bore:
    """A straight drill from `start` to `end` (mm). radius: half its width at the end; outline: what it looks like along
    its axis. spread: mm by which it stands further out all round at its start (a countersink); 0 of a straight one.
    """

    start: tuple[float, float, float]
    end: tuple[float, float, float]
    radius: float
    outline: Outline = ROUND
    spread: float = 0.0

    @property
    def length(self) -> float:
        """Length in mm."""
        return math.dist(self.start, self.end)

    @property
    def _spread(self) -> float:
        """mm by which the sides of the polygon stand further out at the start: as it grows, it keeps the area of the
        section that it stands for."""
        return self.spread * float(self.outline.sides(self.radius)[1].min()) / self.radius if self.spread else 0.0

    @property
    def is_cylinder(self) -> bool:
        """Whether it is round and as wide all along."""
        return self.outline.is_round and self.spread == 0.0

    @property
    def widest(self) -> tuple[Outline, float]:
        """Outline and radius at the start, where it is widest."""
        return self.outline.grown(self.spread), self.radius + self.spread

    @property
    def far(self) -> float:
        """mm from the axis to the furthest point of the true body."""
        outline, radius = self.widest
        return outline.far(radius)

    @property
    def outer_radius(self) -> float:
        """Distance from the axis to the furthest corner of the polygon."""
        return float(np.linalg.norm(self._flat[0], axis=1).max())

    @property
    def _flat(self) -> tuple[FloatArray, FloatArray]:
        """(n, 2) corners across the axis at the start and at the end."""
        corners = self.outline.corners(self.radius)
        if self.spread == 0.0:
            return corners, corners
        # Each corner moves out along both its sides' normals: the same planes, `spread` further out.
        after = self.outline.sides(self.radius)[0]
        both = np.roll(after, 1, axis=0) + after
        return corners + self._spread * both / (0.5 * (both**2).sum(axis=1, keepdims=True)), corners

    @property
    def axes(self) -> FloatArray:
        """(3, 3): the axes of the tool's own frame as rows, two across and then along."""
        axis = np.subtract(self.end, self.start) / self.length
        return np.vstack([self.outline.frame(axis), axis])

    def place(self, points: FloatArray) -> FloatArray:
        """Points (…, 3) mm in the tool's own frame: two coordinates across the axis, and how far along from start."""
        frame: FloatArray = (points - np.asarray(self.start)) @ self.axes.T
        return frame

    def planes(self, frame: Bore) -> tuple[FloatArray, FloatArray]:
        """The planes n . x = d around the tool, in the frame of another: outward normals (f, 3), offsets (f,) mm."""
        across, offsets = self.outline.sides(self.radius)
        spread = self._spread
        # The sides lean outwards towards the start: n . x + (spread / length) z = d + spread.
        lean = spread / self.length
        size = math.hypot(1.0, lean)
        sides = np.column_stack([across, np.full(len(across), lean)]) / size
        normals = np.vstack([sides, [[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]]])
        offsets = np.append((offsets + spread) / size, [0.0, self.length])
        if self is frame:
            return normals, offsets
        turned = normals @ (frame.axes @ self.axes.T).T
        return turned, offsets + turned @ frame.place(np.asarray(self.start))

    def outside(self, points: FloatArray) -> FloatArray:
        """(k,) mm by which points (k, 3) lie outside the nearest of its planes; negative inside."""
        normals, offsets = self.planes(self)
        return np.asarray((self.place(points) @ normals.T - offsets).max(axis=1))

    @property
    def rings(self) -> FloatArray:
        """(2, n, 3) mm: its corners at the start and at the end, counter-clockwise about the axis."""
        u, v, _ = self.axes
        rings = [
            np.asarray(at) + flat[:, :1] * u + flat[:, 1:] * v
            for at, flat in zip((self.start, self.end), self._flat, strict=True)
        ]
        return np.array(rings)

    def mesh(self) -> tuple[FloatArray, IntArray]:
        """The closed mesh of its polygon, faces outward: vertices (2 n + 2, 3) mm (ring and middle of both ends), faces
        (4 n, 3) int32. The same arguments give the same bits. Raises ParameterError for a body without volume."""
        good = math.isfinite(self.length) and self.length > 0.0 and math.isfinite(self.radius) and self.radius > 0.0
        if not good:
            raise ParameterError(
                f"A tool of length {self.length:g} mm and radius {self.radius:g} mm is no tool.",
                "Both must be greater than 0.",
            )
        rings = self.rings
        n = rings.shape[1]
        vertices = np.vstack([*rings, np.asarray(self.start), np.asarray(self.end)])
        i = np.arange(n, dtype=np.int32)
        j = (i + 1) % n
        first, second = np.full(n, 2 * n, np.int32), np.full(n, 2 * n + 1, np.int32)
        sides = np.stack([np.stack([i, j, j + n], axis=1), np.stack([i, j + n, i + n], axis=1)], axis=1).reshape(-1, 3)
        caps = [np.stack([first, j, i], axis=1), np.stack([second, i + n, j + n], axis=1)]
        return vertices, np.ascontiguousarray(np.vstack([sides, *caps]), dtype=np.int32)

    def grown(self, by: float) -> Bore:
        """The drill `by` mm larger all round and at both ends."""
        if by == 0.0:
            return self
        axis = np.subtract(self.end, self.start) / self.length
        a, b = np.subtract(self.start, by * axis).tolist(), np.add(self.end, by * axis).tolist()
        outline = self.outline.grown(by)
        return Bore((a[0], a[1], a[2]), (b[0], b[1], b[2]), self.radius + by, outline, self.spread)

    def lanes(self) -> tuple[Bore, ...]:
        """Cylinders that cover it, but for a hair (see `Outline.lanes`); itself if it is one. Of a countersink they are
        as wide as its widest end all along: what stays away from them stays away from it."""
        if self.is_cylinder:
            return (self,)
        outline, radius = self.widest
        u, v, _ = self.axes
        found = []
        for x, y, own in outline.lanes(radius):
            a, b = (np.asarray(p) + x * u + y * v for p in (self.start, self.end))
            found.append(Bore((float(a[0]), float(a[1]), float(a[2])), (float(b[0]), float(b[1]), float(b[2])), own))
        return tuple(found)


def clip(
    start: FloatArray, way: FloatArray, normals: FloatArray, offsets: FloatArray, use: BoolArray | None = None
) -> tuple[FloatArray, FloatArray, LongArray, LongArray]:
    """Where the lines start + t way are inside all planes: t from, t to, and the planes there (Cyrus and Beck 1978).

    Nothing is inside where from >= to. use: (lines, planes) bool, the planes that count.
    """
    speed = way @ normals.T
    room = offsets - start @ normals.T
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # a line all but along a plane meets it nowhere
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
