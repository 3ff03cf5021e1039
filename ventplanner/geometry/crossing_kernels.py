"""Compiled loops for pairs of triangles that go through each other."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.closest_kernels import DEEPEST, LEAF
from ventplanner.geometry.jit import B1, F8, I8, IN_F8_2, IN_I4_2, OUT_F8_2, OUT_I8_2, VOID, kernel


@kernel(B1(IN_F8_2, I8, I8, IN_F8_2, I8, F8))
def _pierces(one: Any, t: Any, side: Any, other: Any, u: Any, depth: Any) -> Any:
    """Whether a side of triangle t goes through triangle u, with both ends further than `depth` off its plane.

    Both are (m, 9) corners. Signed volumes: the ends lie on different sides of the plane, and the line passes all
    three sides of the triangle on the same hand (Segura & Feito 2001, "Algorithms to test ray-triangle intersection").
    """
    p, q = 3 * side, 3 * ((side + 1) % 3)
    ax, ay, az = other[u, 0], other[u, 1], other[u, 2]
    bx, by, bz = other[u, 3] - ax, other[u, 4] - ay, other[u, 5] - az
    cx, cy, cz = other[u, 6] - ax, other[u, 7] - ay, other[u, 8] - az
    px, py, pz = one[t, p] - ax, one[t, p + 1] - ay, one[t, p + 2] - az
    qx, qy, qz = one[t, q] - ax, one[t, q + 1] - ay, one[t, q + 2] - az
    nx, ny, nz = by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx
    length = np.sqrt(nx * nx + ny * ny + nz * nz)
    # A face without area has no inside to go through; its plane would be rounding.
    if length <= 1e-9 * (bx * bx + by * by + bz * bz + cx * cx + cy * cy + cz * cz):
        return False
    over, under = nx * px + ny * py + nz * pz, nx * qx + ny * qy + nz * qz
    if abs(over) <= depth * length or abs(under) <= depth * length or (over > 0.0) == (under > 0.0):
        return False
    dx, dy, dz = qx - px, qy - py, qz - pz
    # Hand of each side: (d x p) . side, taken about p.
    mx, my, mz = dy * pz - dz * py, dz * px - dx * pz, dx * py - dy * px
    first = mx * bx + my * by + mz * bz
    last = mx * cx + my * cy + mz * cz
    # Volume of (d, b - p, c - p).
    ux, uy, uz = bx - px, by - py, bz - pz
    vx, vy, vz = cx - px, cy - py, cz - pz
    middle = dx * (uy * vz - uz * vy) + dy * (uz * vx - ux * vz) + dz * (ux * vy - uy * vx)
    w0, w1, w2 = middle, last, -first
    margin = 1e-12 * (abs(w0) + abs(w1) + abs(w2))
    if w0 > margin:
        return w1 > margin and w2 > margin
    return w0 < -margin and w1 < -margin and w2 < -margin


@kernel(B1(IN_F8_2, I8, I8, F8))
def _straddles(corners: Any, t: Any, u: Any, depth: Any) -> Any:
    """Whether triangle t has corners further than `depth` off the plane of triangle u on both sides: most have not."""
    ax, ay, az = corners[u, 0], corners[u, 1], corners[u, 2]
    bx, by, bz = corners[u, 3] - ax, corners[u, 4] - ay, corners[u, 5] - az
    cx, cy, cz = corners[u, 6] - ax, corners[u, 7] - ay, corners[u, 8] - az
    nx, ny, nz = by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx
    low, high = np.inf, -np.inf
    for c in range(0, 9, 3):
        height = nx * (corners[t, c] - ax) + ny * (corners[t, c + 1] - ay) + nz * (corners[t, c + 2] - az)
        low, high = min(low, height), max(high, height)
    if low >= 0.0 or high <= 0.0:
        return False
    least = depth * np.sqrt(nx * nx + ny * ny + nz * nz)
    return low < -least and high > least


@kernel(B1(IN_F8_2, IN_I4_2, I8, I8, F8))
def _cross(corners: Any, faces: Any, t: Any, u: Any, depth: Any) -> Any:
    """Whether two faces without a common edge go through each other by more than `depth`."""
    common = 0
    for i in range(3):
        for j in range(3):
            common += 1 if faces[t, i] == faces[u, j] else 0
    if common > 1:
        return False
    for one, other in ((t, u), (u, t)):
        if _straddles(corners, one, other, depth):
            for side in range(3):
                if _pierces(corners, one, side, corners, other, depth):
                    return True
    return False


@kernel(VOID(IN_F8_2, I8, OUT_F8_2, I8))
def _box(corners: Any, t: Any, boxes: Any, row: Any) -> None:
    """Lowest and highest corner of a face."""
    for k in range(3):
        boxes[row, k] = min(corners[t, k], corners[t, 3 + k], corners[t, 6 + k])
        boxes[row, 3 + k] = max(corners[t, k], corners[t, 3 + k], corners[t, 6 + k])


@kernel(B1(IN_F8_2, I8, IN_F8_2, I8))
def _apart(one: Any, i: Any, other: Any, j: Any) -> Any:
    """Whether two boxes, the first six numbers of rows, have nothing in common."""
    apart = False
    for k in range(3):
        apart = apart or one[i, k] > other[j, 3 + k] or one[i, 3 + k] < other[j, k]
    return apart


@kernel(I8(IN_F8_2, IN_I4_2, IN_F8_2, I8, I8, F8, OUT_I8_2))
def crossing_pairs(corners: Any, faces: Any, bounds: Any, start: Any, stop: Any, depth: Any, pairs: Any) -> Any:
    """Pairs of faces, one of them in a leaf in [start, stop), that go through each other by more than `depth`; their
    number.

    corners (m, 9) and faces (m, 3) in the order of the tree `bounds` of `bound_nodes`. Two faces with a common edge are
    no pair; of two with a common vertex only the sides away from it count. pairs (k, 2) is filled as far as it goes.
    """
    leaves, count, found = (bounds.shape[0] + 1) // 2, corners.shape[0], 0
    stack, widths, boxes = np.empty(2 * DEEPEST, np.int64), np.empty(2 * DEEPEST, np.int64), np.empty((LEAF + 1, 6))
    for leaf in range(start, min(stop, (count + LEAF - 1) // LEAF)):
        first, last = leaf * LEAF, min(count, leaf * LEAF + LEAF)
        for t in range(first, last):
            _box(corners, t, boxes, t - first)
        stack[0], widths[0], top = 0, leaves, 1
        while top > 0:
            top -= 1
            node, width = stack[top], widths[top]
            # Only later leaves, and the leaf itself, are asked about.
            if (node + 2) * width - leaves <= leaf or _apart(bounds, node, bounds, leaves - 1 + leaf):
                continue
            if width > 1:
                stack[top], stack[top + 1] = 2 * node + 2, 2 * node + 1
                widths[top], widths[top + 1] = width // 2, width // 2
                top += 2
                continue
            other = (node - (leaves - 1)) * LEAF
            for u in range(other, min(count, other + LEAF)):
                _box(corners, u, boxes, LEAF)
                if _apart(boxes, LEAF, bounds, leaves - 1 + leaf):
                    continue
                for t in range(first, min(last, u)):
                    if not _apart(boxes, t - first, boxes, LEAF) and _cross(corners, faces, t, u, depth):
                        if found < len(pairs):
                            pairs[found, 0], pairs[found, 1] = t, u
                        found += 1
    return found
