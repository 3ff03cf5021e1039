"""Exact weld: points with equal coordinates become one vertex.

No tolerance: in a part with fine detail every tolerance also joins vertices that the designer kept apart. Equal means
equal to the last bit, except that -0.0 is 0.0.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.jit import kernel

_BLOCK_POINTS = 1 << 16


@kernel("UniTuple(int64, 2)(uint64[:,::1], uint64[:,::1], int32[::1], int32[::1], int64)")
def _number_rows(
    rows: NDArray[np.uint64],
    distinct: NDArray[np.uint64],
    index: NDArray[np.int32],
    slots: NDArray[np.int32],
    count: int,
) -> tuple[int, int]:
    """Number rows by first appearance, going on from `count` known ones; stops when `slots` is half full.

    Open addressing with linear probing in `slots` (a power of two, -1 = free). Fills `index` and `distinct`; returns
    how many rows were done and how many distinct ones are known. Each word is folded before it is multiplied because
    float32 values held in float64 end in 29 zero bits, which a product alone would never carry into the low bits.
    """
    negative_zero = np.uint64(1) << np.uint64(63)
    half = np.uint64(32)
    mask = np.uint64(len(slots) - 1)
    for i in range(len(rows)):
        if 2 * count > len(slots):
            return i, count
        x, y, z = rows[i, 0], rows[i, 1], rows[i, 2]
        x = np.uint64(0) if x == negative_zero else x
        y = np.uint64(0) if y == negative_zero else y
        z = np.uint64(0) if z == negative_zero else z
        h = (x ^ (x >> half)) * np.uint64(0x9E3779B97F4A7C15) ^ (y ^ (y >> half)) * np.uint64(0xC2B2AE3D27D4EB4F)
        h = (h ^ (h >> np.uint64(29))) + (z ^ (z >> half)) * np.uint64(0x165667B19E3779F9)
        h = (h ^ (h >> np.uint64(31))) * np.uint64(0xC2B2AE3D27D4EB4F)
        slot = (h >> np.uint64(30)) & mask
        known = slots[slot]
        while known >= 0 and not (distinct[known, 0] == x and distinct[known, 1] == y and distinct[known, 2] == z):
            slot = (slot + np.uint64(1)) & mask
            known = slots[slot]
        if known < 0:
            known = np.int32(count)
            slots[slot] = known
            distinct[count, 0], distinct[count, 1], distinct[count, 2] = x, y, z
            count += 1
        index[i] = known
    return len(rows), count


def weld_points(points: NDArray[np.floating], expected: int = 0) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Join equal points: (..., 3) float32 or float64 -> distinct points (k, 3) float64 and index (n,) int32 into them.

    n is the number of points in C order; the array may have any strides. Distinct points are numbered by first
    appearance, so the result depends on nothing but the input; -0.0 comes back as 0.0. NaNs are equal when their bits
    are. `expected` distinct points (default n) is a hint for speed alone. Hash table with doubling, O(n) on average.
    """
    total = points.size // 3
    distinct = np.empty((total, 3), np.uint64)
    index = np.empty(total, np.int32)
    slots = np.full(1 << max(4, int(2 * (expected or total)).bit_length()), -1, np.int32)
    done = count = 0
    step = max(1, _BLOCK_POINTS * len(points) // max(total, 1))
    for start in range(0, len(points), step):
        # Block by block, so that the float64 copy of a large float32 soup stays in the cache.
        with np.errstate(invalid="ignore"):  # a signalling NaN, which must be welded before it can be refused
            block = np.ascontiguousarray(points[start : start + step], dtype=np.float64)
        rows = block.reshape(-1, 3).view(np.uint64)
        while len(rows):
            more, count = _number_rows(rows, distinct, index[done:], slots, count)
            done, rows = done + more, rows[more:]
            if len(rows):
                slots = np.full(2 * len(slots), -1, np.int32)
                _number_rows(distinct[:count], distinct, np.empty(count, np.int32), slots, 0)
    return distinct[:count].copy().view(np.float64), index


def weld(soup: NDArray[np.floating]) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Join equal corners of a triangle soup: (m, 3, 3) -> vertices (k, 3) float64 and faces (m, 3) int32.

    The soup is float32 or float64, of any strides. Vertices are numbered by first appearance; every triangle stays,
    also one with two equal corners.
    """
    # A closed triangle mesh has about half as many vertices as triangles (Euler: V - E + F = 2, 2 E = 3 F).
    vertices, index = weld_points(soup, expected=len(soup) // 2)
    return vertices, index.reshape(-1, 3)
