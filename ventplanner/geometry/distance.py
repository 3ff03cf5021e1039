"""Exact distances from points to the triangles near them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.distance_kernels import nearest_distance
from ventplanner.geometry.solid import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class NearTriangles:
    """Triangles (k, 3, 3) near a place; distances are exact for points whose nearest triangle is among them."""

    corners: FloatArray

    @classmethod
    def around(cls, vertices: FloatArray, faces: IntArray, centre: FloatArray, reach: float) -> NearTriangles | None:
        """The triangles whose boxes come within `reach` mm (along each axis) of the centre; None if there are none."""
        keep = np.ones(len(faces), dtype=bool)
        index = np.arange(len(faces))
        for axis in range(3):
            along = vertices[:, axis]
            side = np.where(along < centre[axis] - reach, -1, np.where(along > centre[axis] + reach, 1, 0)).astype(
                np.int8
            )
            corner = side[faces[index]]
            # Away only if all three corners are off on the same side.
            keep = np.abs(corner.sum(axis=1)) < 3
            index = index[keep]
        return cls(np.ascontiguousarray(vertices[faces[index]])) if len(index) else None

    def distance(self, points: FloatArray) -> FloatArray:
        """(p, 3) to (p,) mm: distance to the nearest of the triangles."""
        out = np.empty(len(points))
        nearest_distance(np.ascontiguousarray(points), self.corners, out)
        return out
