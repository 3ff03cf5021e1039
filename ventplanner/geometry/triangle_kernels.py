"""The compiled distance from a point to a triangle."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import F8, F8_TRIPLE, I8, IN_F8_2, kernel


@kernel(F8_TRIPLE(IN_F8_2, I8, F8, F8, F8))
def at_triangle(corners: Any, t: Any, x: Any, y: Any, z: Any) -> Any:
    """Squared distance from a point to a triangle, and the weights of its second and third corner there.

    corners: (k, 9), the triangle in row t. By its regions: corners, edges, inside (Ericson 2005, Real-Time Collision
    Detection, 5.1.5).
    """
    ax, ay, az = corners[t, 0], corners[t, 1], corners[t, 2]
    bx, by, bz = corners[t, 3] - ax, corners[t, 4] - ay, corners[t, 5] - az
    cx, cy, cz = corners[t, 6] - ax, corners[t, 7] - ay, corners[t, 8] - az
    px, py, pz = x - ax, y - ay, z - az
    d1, d2 = bx * px + by * py + bz * pz, cx * px + cy * py + cz * pz
    bb, cc, bc = bx * bx + by * by + bz * bz, cx * cx + cy * cy + cz * cz, bx * cx + by * cy + bz * cz
    d3, d4, d5, d6 = d1 - bb, d2 - bc, d1 - bc, d2 - cc
    va, vb, vc = d3 * d6 - d5 * d4, d5 * d2 - d1 * d6, d1 * d4 - d3 * d2
    if d1 <= 0.0 and d2 <= 0.0:
        v, w = 0.0, 0.0
    elif d3 >= 0.0 and d4 <= d3:
        v, w = 1.0, 0.0
    elif d6 >= 0.0 and d5 <= d6:
        v, w = 0.0, 1.0
    elif vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        v, w = d1 / (d1 - d3), 0.0
    elif vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        v, w = 0.0, d2 / (d2 - d6)
    elif va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        w = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        v = 1.0 - w
    else:
        total = va + vb + vc
        v, w = vb / total, vc / total
    qx, qy, qz = px - v * bx - w * cx, py - v * by - w * cy, pz - v * bz - w * cz
    gap = qx * qx + qy * qy + qz * qz
    # A flat triangle may give 0 / 0: its neighbours cover it.
    return (gap, v, w) if gap == gap else (np.inf, 0.0, 0.0)  # noqa: PLR0124
