"""Compiled loop: exact distance from points to triangles."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import IN_F8_2, IN_F8_3, OUT_F8_1, VOID, kernel


@kernel(VOID(IN_F8_2, IN_F8_3, OUT_F8_1))
def nearest_distance(points: Any, corners: Any, out: Any) -> None:
    """Distance from each of (p, 3) points to the nearest of (k, 3, 3) triangles.

    By the regions of the triangle: corners, edges, inside (Ericson 2005, Real-Time Collision Detection, 5.1.5).
    """
    ab, ac, ap, near = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    for n in range(points.shape[0]):
        least = np.inf
        for t in range(corners.shape[0]):
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
        out[n] = np.sqrt(least)
