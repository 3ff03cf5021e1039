"""How often a closed mesh winds around points."""

from __future__ import annotations

import numpy as np

from ventplanner.geometry.inside import on_grid
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.topology_kernels import LongArray
from ventplanner.geometry.winding_kernels import wind


def winding_at(vertices: FloatArray, faces: IntArray, points: FloatArray) -> LongArray:
    """(p,) winding number of a closed mesh at each of (p, 3) points: 1 inside a plain one, more where it overlaps.

    Signed crossings of one upward ray, judged as in `geometry.inside`.
    """
    out = np.zeros(len(points), dtype=np.int64)
    if len(points):
        order, start, grid = on_grid(points)
        found = np.zeros(len(points), dtype=np.int64)
        wind(np.ascontiguousarray(vertices), np.ascontiguousarray(faces), points[order], start, grid, found)
        out[order] = found
    return out
