"""Compiled loops: exact distance from points to triangles."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import F8, I8, IN_F8_2, IN_F8_3, OUT_F8_1, OUT_F8_2, VOID, kernel

BLOCK = 32
"""Triangles of a block: neighbours in a file are mostly neighbours in space, so most blocks are far from a point."""


@kernel(VOID(IN_F8_3, OUT_F8_2))
def bound_triangles(corners: Any, bounds: Any) -> None:
    """Boxes of consecutive blocks of (k, 3, 3) triangles: bounds (blocks, 6) out, lowest then highest corner."""
    for block in range(bounds.shape[0]):
        for k in range(3):
            low, high = np.inf, -np.inf
            for t in range(block * 32, min(corners.shape[0], block * 32 + 32)):
                for c in range(3):
                    low, high = min(low, corners[t, c, k]), max(high, corners[t, c, k])
            bounds[block, k], bounds[block, 3 + k] = low, high


@kernel(F8(IN_F8_2, I8, IN_F8_2, I8))
def _to_box(points: Any, n: Any, bounds: Any, block: Any) -> Any:
    """Square of the distance from a point to a box, a hair less: rounding must not leave out a triangle."""
    total = 0.0
    for k in range(3):
        beside = max(bounds[block, k] - points[n, k], points[n, k] - bounds[block, 3 + k], 0.0)
        total += beside * beside
    return 0.999999 * total


@kernel(F8(IN_F8_2, I8, IN_F8_3, I8, I8, F8, OUT_F8_2))
def _nearest_of(points: Any, n: Any, corners: Any, start: Any, stop: Any, least: Any, room: Any) -> Any:
    """Square of the distance from a point to the nearest of the triangles in [start, stop), or `least` if that is less.

    room: (4, 3) for numbers on the way. By the regions of the triangle: corners, edges, inside (Ericson 2005, Real-Time
    Collision Detection, 5.1.5).
    """
    ab, ac, ap, near = room[0], room[1], room[2], room[3]
    for t in range(start, stop):
        d1 = d2 = abab = acac = abac = 0.0
        for k in range(3):
            ab[k] = corners[t, 1, k] - corners[t, 0, k]
            ac[k] = corners[t, 2, k] - corners[t, 0, k]
            ap[k] = points[n, k] - corners[t, 0, k]
            d1 += ab[k] * ap[k]
            d2 += ac[k] * ap[k]
            abab += ab[k] * ab[k]
            acac += ac[k] * ac[k]
            abac += ab[k] * ac[k]
        # Dot products from the other two corners follow from those of the first.
        d3, d4, d5, d6 = d1 - abab, d2 - abac, d1 - abac, d2 - acac
        va, vb, vc = d3 * d6 - d5 * d4, d5 * d2 - d1 * d6, d1 * d4 - d3 * d2
        if d1 <= 0 and d2 <= 0:
            v, w = 0.0, 0.0
        elif d3 >= 0 and d4 <= d3:
            v, w = 1.0, 0.0
        elif d6 >= 0 and d5 <= d6:
            v, w = 0.0, 1.0
        elif vc <= 0 and d1 >= 0 and d3 <= 0:
            v, w = d1 / (d1 - d3), 0.0
        elif vb <= 0 and d2 >= 0 and d6 <= 0:
            v, w = 0.0, d2 / (d2 - d6)
        elif va <= 0 and d4 - d3 >= 0 and d5 - d6 >= 0:
            w = (d4 - d3) / ((d4 - d3) + (d5 - d6))
            v = 1.0 - w
        else:
            total = va + vb + vc
            v, w = vb / total, vc / total
        gap = 0.0
        for k in range(3):
            near[k] = ap[k] - v * ab[k] - w * ac[k]
            gap += near[k] * near[k]
        # A flat triangle may give 0 / 0, which compares as false: its neighbours cover it.
        least = min(least, gap) if gap == gap else least  # noqa: PLR0124
    return least


@kernel(VOID(IN_F8_2, IN_F8_3, IN_F8_2, OUT_F8_1))
def nearest_distance(points: Any, corners: Any, bounds: Any, out: Any) -> None:
    """Distance from each of (p, 3) points to the nearest of (k, 3, 3) triangles, whose blocks have these boxes.

    The nearest block is looked at first; then only those that may hold something nearer.
    """
    room = np.empty((4, 3), np.float64)
    for n in range(points.shape[0]):
        nearest, first = np.inf, 0
        for block in range(bounds.shape[0]):
            away = _to_box(points, n, bounds, block)
            if away < nearest:
                nearest, first = away, block
        least = _nearest_of(points, n, corners, first * 32, min(corners.shape[0], first * 32 + 32), np.inf, room)
        for block in range(bounds.shape[0]):
            if block != first and not _to_box(points, n, bounds, block) > least:
                stop = min(corners.shape[0], block * 32 + 32)
                least = _nearest_of(points, n, corners, block * 32, stop, least, room)
        out[n] = np.sqrt(least)
