"""Compiled loops for how far places are from a wall between pixels, and for the widest way through such places."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F4,
    F8,
    I8,
    IN_F4_3,
    IN_F8_1,
    IN_F8_2,
    IN_I8_1,
    IN_I8_2,
    IN_U1_1,
    OUT_F8_1,
    OUT_F8_2,
    OUT_I8_1,
    OUT_U1_1,
    VOID,
    kernel,
)

FAR = 1e9
"""mm: farther than anything."""


@kernel(F4(IN_F4_3, I8, I8, I8))
def solidity_at(solidity: Any, a: Any, b: Any, c: Any) -> Any:
    """Solidity at a node of the lattice of half the cells' pitch, (2 n + 1) nodes an axis: where two layers meet that
    of the more solid one, between pixels their mean."""
    nz, ny, nx = solidity.shape
    k0, k1 = max((a - 1) // 2, 0), min(a // 2, nz - 1)
    j0, j1 = max((b - 1) // 2, 0), min(b // 2, ny - 1)
    i0, i1 = max((c - 1) // 2, 0), min(c // 2, nx - 1)
    front = max(solidity[k0, j0, i0], solidity[k1, j0, i0]) + max(solidity[k0, j1, i0], solidity[k1, j1, i0])
    back = max(solidity[k0, j0, i1], solidity[k1, j0, i1]) + max(solidity[k0, j1, i1], solidity[k1, j1, i1])
    return np.float32(0.25) * (front + back)


@kernel(VOID(IN_F4_3, IN_F8_1, IN_I8_2, OUT_F8_2, OUT_I8_1))
def wall_points(solidity: Any, step: Any, cells: Any, out: Any, starts: Any) -> None:
    """Points of the wall on that lattice; they are written as far as `out` (3, n) has room.

    They are solid nodes beside void ones, and where lines sideways between two such nodes meet the wall, the solidity
    between them linear. step: (3,) mm between nodes. cells: (k, 3) where to look; starts: (k + 1,) the first point of
    each, and last how many there are.
    """
    (nz, ny, nx), room, count = solidity.shape, out.shape[1], 0
    for cell in range(len(cells)):
        starts[cell] = count
        k, j, i = cells[cell, 0], cells[cell, 1], cells[cell, 2]
        # A cell's own nodes: its middle, its lower borders; of the last one the upper ones, too.
        for a in range(2 * k, 2 * k + (2 if k + 1 < nz else 3)):
            for b in range(2 * j, 2 * j + (2 if j + 1 < ny else 3)):
                for c in range(2 * i, 2 * i + (2 if i + 1 < nx else 3)):
                    inner = solidity_at(solidity, a, b, c)
                    if inner < 0.0:
                        continue
                    beside = False
                    for way in range(7):
                        axis, side, part = way // 2, 2 * (way % 2) - 1, 0.0
                        if axis < 3:
                            aa, bb = a + (side if axis == 0 else 0), b + (side if axis == 1 else 0)
                            cc = c + (side if axis == 2 else 0)
                            if min(aa, bb, cc) < 0 or aa > 2 * nz or bb > 2 * ny or cc > 2 * nx:
                                continue
                            outer = solidity_at(solidity, aa, bb, cc)
                            if outer >= 0.0:
                                continue
                            beside = True
                            part = side * float(inner) / (float(inner) - float(outer))
                        # Up and down the wall is where the cell ends; last comes the node itself.
                        if axis > 0 and beside:
                            if count < room:
                                out[0, count] = a * step[0]
                                out[1, count] = (b + (part if axis == 1 else 0.0)) * step[1]
                                out[2, count] = (c + (part if axis == 2 else 0.0)) * step[2]
                            count += 1
    starts[len(cells)] = count


@kernel(F8(IN_F8_2, I8, I8, F8, F8, F8, F8), finite=True)
def _nearest_square(points: Any, first: Any, end: Any, z: Any, y: Any, x: Any, least: Any) -> Any:
    """The least squared distance to some of the points, at most `least`."""
    for p in range(first, end):
        least = min(least, (points[0, p] - z) ** 2 + (points[1, p] - y) ** 2 + (points[2, p] - x) ** 2)
    return least


@kernel(F8(IN_F4_3, IN_F8_1, IN_I8_1, F8, OUT_I8_1, I8, IN_F8_2, IN_I8_1, IN_F8_2, IN_I8_1, IN_F8_2), finite=True)
def _clearance(
    solidity: Any, step: Any, node: Any, most: Any, near: Any, own: Any,
    points: Any, starts: Any, boxes: Any, groups: Any, hulls: Any,
) -> Any:  # fmt: skip
    """Distance from a node to the nearest point, which is at most so far; 0 in the wall.

    near[own]: the block where it is looked for first, such as that of a node beside this one; after that the block
    where it was found.
    """
    if solidity_at(solidity, node[0], node[1], node[2]) >= 0.0:
        return 0.0
    z, y, x = node[0] * step[0], node[1] * step[1], node[2] * step[2]
    best, block = most * most, near[own]
    if block + 1 < len(starts):
        best = _nearest_square(points, starts[block], starts[block + 1], z, y, x, best)
    for group in range(hulls.shape[1]):
        off = max(hulls[0, group] - z, z - hulls[3, group], 0.0) ** 2
        off += max(hulls[1, group] - y, y - hulls[4, group], 0.0) ** 2
        off += max(hulls[2, group] - x, x - hulls[5, group], 0.0) ** 2
        if off >= best:
            continue
        for block in range(groups[group], groups[group + 1]):
            off = max(boxes[0, block] - z, z - boxes[3, block], 0.0) ** 2
            off += max(boxes[1, block] - y, y - boxes[4, block], 0.0) ** 2
            off += max(boxes[2, block] - x, x - boxes[5, block], 0.0) ** 2
            if off < best:
                least = _nearest_square(points, starts[block], starts[block + 1], z, y, x, best)
                if least < best:
                    best, near[own] = least, block
    return np.sqrt(best)


@kernel(VOID(IN_I8_2, IN_F4_3, IN_F8_1, IN_F8_2, IN_I8_1, IN_F8_2, IN_I8_1, IN_F8_2, OUT_F8_1))
def clearances(
    nodes: Any, solidity: Any, step: Any, points: Any, starts: Any, boxes: Any, groups: Any, hulls: Any, out: Any
) -> None:  # fmt: skip
    """Distance from each node to the nearest point, 0 in the wall. nodes: (k, 3) on the lattice, one near the next.

    step: (3,) mm between nodes. points: (3, n), block by block; starts: (blocks + 1,) first point of each; boxes: (6,
    blocks) its least and largest coordinates; groups, hulls: the same of groups of blocks. From the middle of a round
    hole everything is equally far: most blocks are not looked into because of what is known from the node before.
    """
    last, most, near = 0, FAR, np.zeros(1, dtype=np.int64)
    for k in range(len(nodes)):
        far = 0.0
        for axis in range(3):
            far += ((nodes[k, axis] - nodes[last, axis]) * step[axis]) ** 2
        reach = 1e-9 + most + np.sqrt(far)
        out[k] = _clearance(solidity, step, nodes[k], reach, near, 0, points, starts, boxes, groups, hulls)
        if out[k] > 0.0:
            last, most = k, out[k]


@kernel(I8(OUT_I8_1, I8, IN_F8_1, I8))
def _push(heap: Any, count: Any, clear: Any, one: Any) -> Any:
    """One more on a heap of which the widest is on top; how many there are then."""
    at = count
    while at and clear[heap[(at - 1) // 2]] < clear[one]:
        heap[at] = heap[(at - 1) // 2]
        at = (at - 1) // 2
    heap[at] = one
    return count + 1


@kernel(I8(OUT_I8_1, I8, IN_F8_1))
def _pop(heap: Any, count: Any, clear: Any) -> Any:
    """The top taken off a heap; how many are left."""
    count -= 1
    last, at = heap[count], 0
    while 2 * at + 1 < count:
        below = 2 * at + 1
        if below + 1 < count and clear[heap[below + 1]] > clear[heap[below]]:
            below += 1
        if clear[heap[below]] <= clear[last]:
            break
        heap[at] = heap[below]
        at = below
    heap[at] = last
    return count


_WAY = (IN_I8_1, IN_I8_1, OUT_F8_1, OUT_U1_1, IN_U1_1, F8, OUT_I8_1, OUT_U1_1, OUT_I8_1)
_WALL = (IN_F4_3, IN_F8_1, IN_F8_2, IN_I8_1, IN_F8_2, IN_I8_1, IN_F8_2)


@kernel(F8(*_WAY, IN_I8_2, *_WALL))
def widest_way(
    keys: Any, strides: Any, clear: Any, known: Any, ends: Any, plenty: Any, heap: Any, done: Any, near: Any,
    nodes: Any, solidity: Any, step: Any, points: Any, starts: Any, boxes: Any, groups: Any, hulls: Any,
) -> Any:  # fmt: skip
    """The largest clearance that joins two ends all along some way; 0 if none does.

    keys: (k,) rising places in a grid; strides: (3,) what a step along each axis adds. clear: (k,) clearances where
    known, else the most they can be: those that are met get known. ends: (k,) 1: at the first end, 2: at the last, 3:
    both. plenty: what is at least so clear need not be known better. heap, done, near: (k,) room, and twice 0. nodes:
    (k, 3) the places on the lattice; the rest as for `clearances`. What is widest is gone on from first.
    """
    n, count, level = len(keys), 0, FAR
    for start in range(n):
        if ends[start] & 1 and clear[start] > 0.0:
            done[start] = 1
            count = _push(heap, count, clear, start)
    while count:
        here = heap[0]
        count = _pop(heap, count, clear)
        if not known[here]:
            known[here] = 1
            clear[here] = _clearance(
                solidity, step, nodes[here], clear[here] + 1e-9, near, here, points, starts, boxes, groups, hulls
            )  # fmt: skip
            if clear[here] > 0.0:
                count = _push(heap, count, clear, here)
            continue
        level = min(level, clear[here])
        if ends[here] & 2:
            return level
        for side in range(6):
            axis = side // 2
            key = keys[here] + (strides[axis] if side % 2 else -strides[axis])
            there, after = 0, n
            while there < after:
                middle = (there + after) // 2
                if keys[middle] < key:
                    there = middle + 1
                else:
                    after = middle
            if there == n or keys[there] != key or done[there] or clear[there] <= 0.0:
                continue
            done[there], near[there] = 1, near[here]
            if not known[there] and clear[here] - step[axis] >= plenty:
                clear[there] = clear[here] - step[axis]
                known[there] = 1
            elif not known[there]:
                clear[there] = min(clear[there], clear[here] + step[axis])
            count = _push(heap, count, clear, there)
    return 0.0
