"""Compiled loops: exact distance from points to triangles."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import F8, I8, IN_F8_2, OUT_F8_1, OUT_F8_2, VOID, kernel
from ventplanner.geometry.triangle_kernels import at_triangle

BLOCK = 32
"""Triangles of a block: neighbours in a file are mostly neighbours in space, so most blocks are far from a point."""


@kernel(VOID(IN_F8_2, OUT_F8_2))
def bound_triangles(corners: Any, bounds: Any) -> None:
    """Boxes of consecutive blocks of (k, 9) triangles: bounds (blocks, 6) out, lowest then highest corner."""
    for block in range(bounds.shape[0]):
        for k in range(3):
            low, high = np.inf, -np.inf
            for t in range(block * BLOCK, min(corners.shape[0], (block + 1) * BLOCK)):
                for c in range(3):
                    low, high = min(low, corners[t, 3 * c + k]), max(high, corners[t, 3 * c + k])
            bounds[block, k], bounds[block, 3 + k] = low, high


@kernel(F8(IN_F8_2, I8, IN_F8_2, I8))
def _to_box(points: Any, n: Any, bounds: Any, block: Any) -> Any:
    """Square of the distance from a point to a box, a hair less: rounding must not leave out a triangle."""
    total = 0.0
    for k in range(3):
        beside = max(bounds[block, k] - points[n, k], points[n, k] - bounds[block, 3 + k], 0.0)
        total += beside * beside
    return 0.999999 * total


@kernel(F8(IN_F8_2, I8, IN_F8_2, I8, F8))
def _nearest_of(points: Any, n: Any, corners: Any, block: Any, least: Any) -> Any:
    """Square of the distance from a point to the nearest triangle of a block, or `least` if that is less."""
    x, y, z = points[n, 0], points[n, 1], points[n, 2]
    for t in range(block * BLOCK, min(corners.shape[0], (block + 1) * BLOCK)):
        least = min(least, at_triangle(corners, t, x, y, z)[0])
    return least


@kernel(VOID(IN_F8_2, IN_F8_2, IN_F8_2, OUT_F8_1))
def nearest_distance(points: Any, corners: Any, bounds: Any, out: Any) -> None:
    """Distance from each of (p, 3) points to the nearest of (k, 9) triangles, whose blocks have these boxes.

    The nearest block is looked at first; then only those that may hold something nearer.
    """
    for n in range(points.shape[0]):
        nearest, first = np.inf, 0
        for block in range(bounds.shape[0]):
            away = _to_box(points, n, bounds, block)
            if away < nearest:
                nearest, first = away, block
        least = _nearest_of(points, n, corners, first, np.inf)
        for block in range(bounds.shape[0]):
            if block != first and not _to_box(points, n, bounds, block) > least:
                least = _nearest_of(points, n, corners, block, least)
        out[n] = np.sqrt(least)
