"""Compiled loops for generalised winding numbers: solid angles, those of far faces together."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.closest_kernels import DEEPEST, LEAF
from ventplanner.geometry.jit import F8, I8, IN_F8_2, OUT_F8_1, VOID, kernel

FOUR_PI = 4.0 * np.pi


@kernel(F8(IN_F8_2, I8, F8, F8, F8))
def _solid_angle(corners: Any, t: Any, x: Any, y: Any, z: Any) -> Any:
    """The solid angle of a face seen from a point, positive from behind (van Oosterom & Strackee 1983, eq. 8)."""
    ax, ay, az = corners[t, 0] - x, corners[t, 1] - y, corners[t, 2] - z
    bx, by, bz = corners[t, 3] - x, corners[t, 4] - y, corners[t, 5] - z
    cx, cy, cz = corners[t, 6] - x, corners[t, 7] - y, corners[t, 8] - z
    a, b, c = (
        np.sqrt(ax * ax + ay * ay + az * az),
        np.sqrt(bx * bx + by * by + bz * bz),
        np.sqrt(cx * cx + cy * cy + cz * cz),
    )
    over = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    ab, bc, ca = ax * bx + ay * by + az * bz, bx * cx + by * cy + bz * cz, cx * ax + cy * ay + cz * az
    return 2.0 * np.arctan2(over, a * b * c + ab * c + bc * a + ca * b)


@kernel(VOID(IN_F8_2, IN_F8_2, IN_F8_2, F8, OUT_F8_1))
def wind_around(corners: Any, moments: Any, points: Any, near: Any, out: Any) -> None:
    """The generalised winding number at each of (k, 3) points.

    moments: (nodes, 16) of the tree of `closest_kernels.bound_nodes`: area vector of a node, its middle, its radius,
    and the second moment by rows (`geometry.solid_angle`).

    near: a node is opened where it is nearer than this many times its radius; else its first two terms stand for it.
    """
    stack = np.empty(2 * DEEPEST, np.int64)
    leaves = (moments.shape[0] + 1) // 2
    for n in range(len(points)):
        x, y, z = points[n, 0], points[n, 1], points[n, 2]
        total = 0.0
        stack[0], top = 0, 1
        while top > 0:
            top -= 1
            node = stack[top]
            rx, ry, rz = moments[node, 3] - x, moments[node, 4] - y, moments[node, 5] - z
            square, reach = rx * rx + ry * ry + rz * rz, near * moments[node, 6]
            if square > reach * reach:
                length = np.sqrt(square)
                cube = square * length
                total += (moments[node, 0] * rx + moments[node, 1] * ry + moments[node, 2] * rz) / cube
                trace = moments[node, 7] + moments[node, 11] + moments[node, 15]
                across = (
                    rx * (moments[node, 7] * rx + moments[node, 8] * ry + moments[node, 9] * rz)
                    + ry * (moments[node, 10] * rx + moments[node, 11] * ry + moments[node, 12] * rz)
                    + rz * (moments[node, 13] * rx + moments[node, 14] * ry + moments[node, 15] * rz)
                )
                total += trace / cube - 3.0 * across / (cube * square)
            elif node >= leaves - 1:
                leaf = node - (leaves - 1)
                for t in range(leaf * LEAF, min(corners.shape[0], (leaf + 1) * LEAF)):
                    total += _solid_angle(corners, t, x, y, z)
            else:
                stack[top], stack[top + 1] = 2 * node + 1, 2 * node + 2
                top += 2
        out[n] = total / FOUR_PI
