"""The generalised winding number: how much of all directions a mesh covers around a point, also where it is not closed.

1 in a closed body and 0 outside it; in a gap it falls smoothly from one to the other (Jacobson, Kavan & Sorkine-Hornung
2013, "Robust inside-outside segmentation using generalized winding numbers"). Faces that are far away count together,
by the first two terms of their expansion (Barill et al. 2018, "Fast winding numbers for soups and clouds").
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.closest import Nearest, in_threads
from ventplanner.geometry.closest_kernels import LEAF
from ventplanner.geometry.solid import FloatArray
from ventplanner.geometry.solid_angle_kernels import wind_around

NEAR = 2.0
"""Groups of faces farther than this many times their radius count as one (Barill et al. 2018, section 3)."""

CLOSER = 4.0
"""The same where the number has to be smooth."""


@dataclass(frozen=True, eq=False)
class SolidAngles:
    """A mesh made ready for many questions. mesh: its faces, in a tree. moments: (nodes, 16), what far points see."""

    mesh: Nearest
    moments: FloatArray

    @classmethod
    def of(cls, mesh: Nearest) -> SolidAngles:
        """Of faces as they are wound; they need not hang together."""
        return cls(mesh, _moments(mesh))

    def at(self, points: FloatArray, near: float = NEAR) -> FloatArray:
        """(k,) at (k, 3) points, best in an order in which neighbours follow each other."""
        found = np.zeros(len(points))
        points = np.ascontiguousarray(points)

        def work(part: slice) -> None:
            wind_around(self.mesh.corners, self.moments, points[part], near, found[part])

        in_threads(work, len(points))
        return found


def _moments(mesh: Nearest) -> FloatArray:
    """(nodes, 16): area vector, middle by area, radius about that, and the sums of (middle of a face less the middle)
    times area vector, by rows (Barill et al. 2018, the first two terms of eq. 15)."""
    leaves = (len(mesh.bounds) + 1) // 2
    a, b, c = (mesh.corners[:, k : k + 3] for k in (0, 3, 6))
    vector, middle = np.zeros((leaves * LEAF, 3)), np.zeros((leaves * LEAF, 3))
    vector[: len(a)] = 0.5 * np.cross(b - a, c - a)
    middle[: len(a)] = (a + b + c) / 3.0
    area, second = np.linalg.norm(vector, axis=1), np.zeros((leaves * LEAF, 3, 3))
    moments = np.empty((len(mesh.bounds), 16))
    each = LEAF
    while True:
        vector, middle, area, second = _gathered(vector, middle, area, second, each)
        rows = slice(len(area) - 1, 2 * len(area) - 1)
        moments[rows, :3], moments[rows, 3:6], moments[rows, 7:] = vector, middle, second.reshape(-1, 9)
        if len(area) == 1:
            break
        each = 2
    low, high = mesh.bounds[:, :3], mesh.bounds[:, 3:6]
    reach = np.maximum(np.maximum(high - moments[:, 3:6], moments[:, 3:6] - low), 0.0)
    moments[:, 6] = np.where(low[:, 0] <= high[:, 0], np.linalg.norm(np.where(low <= high, reach, 0.0), axis=1), 0.0)
    return moments


def _gathered(
    vector: FloatArray, middle: FloatArray, area: FloatArray, second: FloatArray, each: int
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """The same of nodes that are made of `each` in turn."""
    vector, middle, area = vector.reshape(-1, each, 3), middle.reshape(-1, each, 3), area.reshape(-1, each)
    total = area.sum(axis=1)
    mean = (middle * area[..., None]).sum(axis=1) / np.maximum(total, np.finfo(float).tiny)[:, None]
    shift = np.where(area[..., None] > 0.0, middle - mean[:, None], 0.0)
    moved = second.reshape(-1, each, 3, 3).sum(axis=1) + np.einsum("nki,nkj->nij", shift, vector)
    return vector.sum(axis=1), mean, total, moved
