"""Compiled loops for the nearest triangle among many, and for how far the nodes of a grid are from an offset skin."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F8,
    I8,
    IN_F8_1,
    IN_F8_2,
    IN_I4_2,
    IN_U1_3,
    OUT_F4_3,
    OUT_F8_1,
    OUT_F8_2,
    OUT_I8_1,
    VOID,
    kernel,
)
from ventplanner.geometry.triangle_kernels import at_triangle

LEAF = 4
"""Faces of a leaf of the tree."""

NODE = 15
"""Numbers of a node of the tree: see `bound_nodes`."""

DISC = 16 * LEAF
"""Faces of a node that has a disc, at most: larger ones are bent."""

SAMPLE = 64
"""Faces that tell which side of a node is the longest."""

DEEPEST = 64
"""Nodes that wait at most: one for each level of the tree."""

BLOCK = 8
"""Nodes along an edge of a block of the grid that is decided, or divided, as one."""


@kernel(VOID(OUT_F8_2, OUT_I8_1, I8, I8, I8, I8))
def _select(centres: Any, order: Any, start: Any, stop: Any, middle: Any, axis: Any) -> None:
    """Put the lower ones along an axis of rows from start to stop before row `middle` (Hoare 1961, algorithm 65)."""
    low, high = start, stop - 1
    while low < high:
        pivot, i, j = centres[(low + high) // 2, axis], low, high
        while i <= j:
            while centres[i, axis] < pivot:
                i += 1
            while centres[j, axis] > pivot:
                j -= 1
            if i <= j:
                for k in range(3):
                    centres[i, k], centres[j, k] = centres[j, k], centres[i, k]
                order[i], order[j] = order[j], order[i]
                i, j = i + 1, j - 1
        if middle <= j:
            high = j
        elif middle >= i:
            low = i
        else:
            return


@kernel(VOID(OUT_F8_2, OUT_I8_1, I8, I8))
def split_faces(centres: Any, order: Any, widest: Any, least: Any) -> None:
    """Order faces for a full binary tree: nodes of `widest` to `least` faces are divided across their longest sides.

    centres: (m, 3) of the faces, in the order that order (m,) has; both are changed in place.
    """
    count, width = len(order), widest
    while width >= least:
        half = width // 2
        for start in range(0, count, width):
            stop = min(count, start + width)
            if stop - start <= half:
                continue
            axis, longest = 0, -1.0
            for k in range(3):
                low, high = np.inf, -np.inf
                for row in range(start, stop, max(1, (stop - start) // SAMPLE)):
                    low, high = min(low, centres[row, k]), max(high, centres[row, k])
                if high - low > longest:
                    axis, longest = k, high - low
            _select(centres, order, start, stop, start + half, axis)
        width = half


@kernel(F8(IN_F8_2, I8, F8, F8, F8, F8))
def _to_node(bounds: Any, node: Any, x: Any, y: Any, z: Any, most: Any) -> Any:
    """Squared distance to a node of the tree, at least, as far as it is below `most`; infinite for an empty one.

    From its box and, nearer to the leaves, from its disc: a cylinder along its mean normal. Where the skin is inclined
    to the axes that is much the thinner one.
    """
    dx = max(bounds[node, 0] - x, x - bounds[node, 3], 0.0)
    dy = max(bounds[node, 1] - y, y - bounds[node, 4], 0.0)
    dz = max(bounds[node, 2] - z, z - bounds[node, 5], 0.0)
    least = dx * dx + dy * dy + dz * dz
    if least >= most:
        return least
    px, py, pz = x - bounds[node, 11], y - bounds[node, 12], z - bounds[node, 13]
    height = bounds[node, 6] * px + bounds[node, 7] * py + bounds[node, 8] * pz
    off = max(bounds[node, 9] - height, height - bounds[node, 10], 0.0)
    beside = max(np.sqrt(max(px * px + py * py + pz * pz - height * height, 0.0)) - bounds[node, 14], 0.0)
    return max(least, off * off + beside * beside)


@kernel(VOID(IN_F8_2, I8, I8, OUT_F8_2, I8))
def _bound_disc(corners: Any, start: Any, stop: Any, bounds: Any, node: Any) -> None:
    """The disc of a node: round the middle of its box, along the mean normal of its faces."""
    nx = ny = nz = 0.0
    for t in range(start, stop):
        ux, uy, uz = corners[t, 3] - corners[t, 0], corners[t, 4] - corners[t, 1], corners[t, 5] - corners[t, 2]
        vx, vy, vz = corners[t, 6] - corners[t, 0], corners[t, 7] - corners[t, 1], corners[t, 8] - corners[t, 2]
        nx, ny, nz = nx + uy * vz - uz * vy, ny + uz * vx - ux * vz, nz + ux * vy - uy * vx
    length = np.sqrt(nx * nx + ny * ny + nz * nz)
    if length <= 0.0:
        return
    nx, ny, nz = nx / length, ny / length, nz / length
    mx, my, mz = (
        0.5 * (bounds[node, 0] + bounds[node, 3]),
        0.5 * (bounds[node, 1] + bounds[node, 4]),
        0.5 * (bounds[node, 2] + bounds[node, 5]),
    )
    low, high, beside = np.inf, -np.inf, 0.0
    for t in range(start, stop):
        for c in range(0, 9, 3):
            px, py, pz = corners[t, c] - mx, corners[t, c + 1] - my, corners[t, c + 2] - mz
            height = nx * px + ny * py + nz * pz
            low, high = min(low, height), max(high, height)
            beside = max(beside, px * px + py * py + pz * pz - height * height)
    # What rounding may have taken off; a root of a small difference keeps half the digits.
    slack = 1e-12 * (abs(mx) + abs(my) + abs(mz)) + 1e-9
    bounds[node, 6], bounds[node, 7], bounds[node, 8] = nx, ny, nz
    bounds[node, 9], bounds[node, 10] = low - slack, high + slack
    bounds[node, 11], bounds[node, 12], bounds[node, 13] = mx, my, mz
    bounds[node, 14] = np.sqrt(beside) + 1e-6


@kernel(VOID(IN_F8_2, OUT_F8_2))
def bound_nodes(corners: Any, bounds: Any) -> None:
    """Bounds of a full binary tree: node k has the children 2k + 1 and 2k + 2, the last level are the leaves.

    bounds: (2 n - 1, 15) out, n a power of two, n * LEAF >= number of faces: lowest and highest corner of the box, then
    normal, lowest and highest height over its middle, middle and radius of the disc (all space, far from the leaves).
    Empty leaves have an inverted box.
    """
    leaves, count = (bounds.shape[0] + 1) // 2, corners.shape[0]
    first, width = leaves - 1, LEAF
    while first >= 0:
        for node in range(first, 2 * first + 1):
            for k in range(3):
                bounds[node, k], bounds[node, 3 + k], bounds[node, 6 + k] = np.inf, -np.inf, 0.0
                bounds[node, 11 + k] = 0.0
            bounds[node, 9], bounds[node, 10], bounds[node, 14] = -np.inf, np.inf, np.inf
            start, stop = (node - first) * width, min(count, (node - first + 1) * width)
            if width == LEAF:
                for t in range(start, stop):
                    for c in range(9):
                        bounds[node, c % 3] = min(bounds[node, c % 3], corners[t, c])
                        bounds[node, 3 + c % 3] = max(bounds[node, 3 + c % 3], corners[t, c])
            else:
                for k in range(3):
                    bounds[node, k] = min(bounds[2 * node + 1, k], bounds[2 * node + 2, k])
                    bounds[node, 3 + k] = max(bounds[2 * node + 1, 3 + k], bounds[2 * node + 2, 3 + k])
            if width <= DISC and start < stop:
                _bound_disc(corners, start, stop, bounds, node)
        first, width = (first - 1) // 2 if first else -1, 2 * width


@kernel(I8(IN_F8_2, IN_F8_2, F8, F8, F8, I8, OUT_F8_1, OUT_I8_1, OUT_F8_1))
def closest(
    corners: Any, bounds: Any, x: Any, y: Any, z: Any, hint: Any, best: Any, stack: Any, away: Any
) -> Any:  # fmt: skip
    """The nearest triangle to a point, -1 if none is nearer than the root of best[0], which becomes what it is then.

    corners: (m, 9). bounds: tree of `bound_nodes`. hint: a triangle that may be near, or -1. stack, away: room.
    """
    leaves, found, top = (bounds.shape[0] + 1) // 2, -1, 1
    if hint >= 0:
        gap = at_triangle(corners, hint, x, y, z)[0]
        if gap < best[0]:
            best[0], found = gap, hint
    stack[0], away[0] = 0, _to_node(bounds, 0, x, y, z, best[0])
    while top > 0:
        top -= 1
        node, least = stack[top], away[top]
        while node < leaves - 1 and least < best[0]:
            one, other = 2 * node + 1, 2 * node + 2
            near = _to_node(bounds, one, x, y, z, best[0])
            far = _to_node(bounds, other, x, y, z, best[0])
            if far < near:
                one, other, near, far = other, one, far, near
            if far < best[0]:
                stack[top], away[top] = other, far
                top += 1
            node, least = one, near
        if least >= best[0]:
            continue
        leaf = node - (leaves - 1)
        for t in range(leaf * LEAF, min(corners.shape[0], (leaf + 1) * LEAF)):
            gap = at_triangle(corners, t, x, y, z)[0]
            if gap < best[0]:
                best[0], found = gap, t
    return found


@kernel(VOID(IN_F8_2, IN_F8_2, IN_F8_2, F8, OUT_F8_1, OUT_F8_2))
def closest_points(corners: Any, bounds: Any, points: Any, most: Any, away: Any, feet: Any) -> None:
    """Distance from each of (k, 3) points to the mesh and its foot there; `most` and the point if none is nearer.

    The points should follow each other in space: the last one's triangle is tried first.
    """
    best, stack, room = np.empty(1), np.empty(DEEPEST, np.int64), np.empty(DEEPEST)
    hint = -1
    for n in range(len(points)):
        x, y, z = points[n, 0], points[n, 1], points[n, 2]
        best[0] = most * most
        t = closest(corners, bounds, x, y, z, hint, best, stack, room)
        away[n] = most if t < 0 else np.sqrt(best[0])
        _, v, w = at_triangle(corners, max(t, 0), x, y, z)
        for k in range(3):
            a, b, c = corners[max(t, 0), k], corners[max(t, 0), 3 + k], corners[max(t, 0), 6 + k]
            feet[n, k] = points[n, k] if t < 0 else a + v * (b - a) + w * (c - a)
        hint = t if t >= 0 else hint


@kernel(I8(F8, F8, F8, F8, I8, F8))
def _decided(gap: Any, inside: Any, level: Any, radius: Any, found: Any, step: Any) -> Any:
    """Whether all nodes of a block are on one side of the level by more than a step: 1, -1 by the side, 0 if not.

    gap: from the middle of the block to the mesh, at least, if nothing was found. radius: from there to its corners.
    """
    if found < 0 or gap > radius:
        beyond = (gap if inside > 0.0 else -gap) - level
        return (1 if beyond > 0.0 else -1) if found < 0 or abs(beyond) > radius + step else 0
    return (-1 if level > 0.0 else 1) if gap + radius + step < abs(level) else 0


@kernel(VOID(IN_I4_2, IN_F8_1, F8, IN_U1_3, F8, IN_F8_2, IN_F8_2, OUT_F4_3))
def offset_blocks(
    blocks: Any, origin: Any, step: Any, inside: Any, level: Any, corners: Any, bounds: Any, out: Any
) -> None:  # fmt: skip
    """Signed distance to a mesh, positive inside, less a level, at the nodes of blocks of a grid.

    Exact wherever it is below one step; beyond two steps it is cut off. The distance changes by no more than the way
    (it is 1-Lipschitz), so one query in the middle decides most blocks, and others are divided in eight.
    blocks: (k, 3) first node z, y, x. origin: x, y, z of the first node. inside: (nz, ny, nx); out the same.
    """
    nz, ny, nx = out.shape
    wait, hints, known = np.empty((64, 4), np.int64), np.empty(64, np.int64), np.empty(64)
    best, stack, room = np.empty(1), np.empty(DEEPEST, np.int64), np.empty(DEEPEST)
    far, hint, fx, fy, fz = 2.0 * step, -1, 0.0, 0.0, 0.0
    for block in range(len(blocks)):
        wait[0, 0], wait[0, 1], wait[0, 2], wait[0, 3] = blocks[block, 0], blocks[block, 1], blocks[block, 2], BLOCK
        hints[0], known[0], top = hint, np.inf, 1
        while top > 0:
            top -= 1
            k, j, i, size = wait[top, 0], wait[top, 1], wait[top, 2], wait[top, 3]
            if k >= nz or j >= ny or i >= nx:
                continue
            half, radius = 0.5 * (size - 1) * step, 0.5 * (size - 1) * step * np.sqrt(3.0)
            x, y, z = origin[0] + i * step + half, origin[1] + j * step + half, origin[2] + k * step + half
            # What the parent knew is an upper bound here; its middle is half a child's edge away along each axis.
            most = min(abs(level) + radius + step, known[top] + 0.5 * size * step * np.sqrt(3.0)) + 1e-9
            best[0] = most * most
            t = closest(corners, bounds, x, y, z, hints[top], best, stack, room)
            gap, sign = most if t < 0 else np.sqrt(best[0]), inside[k, j, i]
            hint = t if t >= 0 else hint
            if size == 1:
                out[k, j, i] = min(max((gap if sign else -gap) - level, -far), far)
                continue
            side = _decided(gap, float(sign), level, radius, t, step)
            if side != 0:
                out[k : k + size, j : j + size, i : i + size] = side * far
                continue
            size //= 2
            half, radius = 0.5 * (size - 1) * step, 0.5 * (size - 1) * step * np.sqrt(3.0)
            if t >= 0:
                _, v, w = at_triangle(corners, t, x, y, z)
                fx = (1.0 - v - w) * corners[t, 0] + v * corners[t, 3] + w * corners[t, 6]
                fy = (1.0 - v - w) * corners[t, 1] + v * corners[t, 4] + w * corners[t, 7]
                fz = (1.0 - v - w) * corners[t, 2] + v * corners[t, 5] + w * corners[t, 8]
            for child in range(8):
                ck, cj, ci = k + size * (child >> 2), j + size * (child >> 1 & 1), i + size * (child & 1)
                if t >= 0:
                    # No node is further from the mesh than from the foot of the block's middle.
                    dx, dy, dz = (
                        origin[0] + ci * step + half - fx,
                        origin[1] + cj * step + half - fy,
                        origin[2] + ck * step + half - fz,
                    )
                    if np.sqrt(dx * dx + dy * dy + dz * dz) + radius + step < abs(level):
                        out[ck : ck + size, cj : cj + size, ci : ci + size] = -far if level > 0.0 else far
                        continue
                wait[top, 0], wait[top, 1], wait[top, 2], wait[top, 3] = ck, cj, ci, size
                hints[top], known[top] = t, gap
                top += 1


@kernel(VOID(IN_F8_2, IN_I4_2, OUT_F8_2))
def gather_corners(vertices: Any, faces: Any, out: Any) -> None:
    """(m, 9) out: the corners of each face one after the other."""
    for f in range(len(faces)):
        for c in range(3):
            for k in range(3):
                out[f, 3 * c + k] = vertices[faces[f, c], k]
