"""Exact distances from points to the triangles near them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ventplanner.geometry.distance_kernels import BLOCK, bound_triangles, nearest_distance
from ventplanner.geometry.rays import Target
from ventplanner.geometry.solid import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class NearTriangles:
    """Triangles (k, 3, 3) near a place; distances are exact for points whose nearest triangle is among them."""

    corners: FloatArray

    @classmethod
    def around(cls, vertices: FloatArray, faces: IntArray, centre: FloatArray, reach: float) -> NearTriangles | None:
        """The triangles whose boxes come within `reach` mm (along each axis) of the centre; None if there are none."""
        # One bit per side of the box: a triangle is away if all three corners are off on one side.
        off = np.zeros(len(vertices), dtype=np.uint8)
        for axis in range(3):
            off |= (vertices[:, axis] < centre[axis] - reach).view(np.uint8) << np.uint8(2 * axis)
            off |= (vertices[:, axis] > centre[axis] + reach).view(np.uint8) << np.uint8(2 * axis + 1)
        away = off[faces[:, 0]]
        away &= off[faces[:, 1]]
        away &= off[faces[:, 2]]
        chosen = np.flatnonzero(away == 0)
        return cls(np.ascontiguousarray(vertices[faces[chosen]])) if len(chosen) else None

    @classmethod
    def within(cls, target: Target, centre: FloatArray, reach: float) -> NearTriangles | None:
        """The same triangles of a mesh that is ready for many questions: only blocks of faces nearby are looked at."""
        corners = target.corners_near(centre - reach, centre + reach)
        return cls(corners) if len(corners) else None

    @property
    def _flat(self) -> FloatArray:
        return self.corners.reshape(-1, 9)

    @cached_property
    def _bounds(self) -> FloatArray:
        """Boxes of the blocks of triangles."""
        bounds = np.empty((-(-len(self.corners) // BLOCK), 6))
        bound_triangles(self._flat, bounds)
        return bounds

    def distance(self, points: FloatArray) -> FloatArray:
        """(p, 3) to (p,) mm: distance to the nearest of the triangles."""
        out = np.empty(len(points))
        nearest_distance(np.ascontiguousarray(points), self._flat, self._bounds, out)
        return out
