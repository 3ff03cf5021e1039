"""Compiled loops that divide the void between columns into cells: pieces of runs, their joins, extents and contacts."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F8,
    I8,
    IN_F8_1,
    IN_I4_1,
    IN_I8_1,
    OUT_F4_3,
    OUT_F8_1,
    OUT_F8_2,
    OUT_I4_1,
    OUT_I4_2,
    OUT_I8_1,
    VOID,
    kernel,
)

_C = 3.0**-0.5
WAYS = np.array(
    [[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]]
    + [[x * _C, y * _C, z * _C] for x in (1, -1) for y in (1, -1) for z in (1, -1)],
    dtype=np.float64,
)
"""Directions in which the furthest point of a cell or contact is kept: of a box, all corners."""
N_WAYS = 14


@kernel(I8(OUT_I4_1, I8))
def top_of(parent: Any, piece: int) -> int:
    """The root of a piece, with path halving."""
    while parent[piece] != piece:
        parent[piece] = parent[parent[piece]]
        piece = parent[piece]
    return piece


@kernel(
    VOID(I8, I8, I8, IN_I8_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_I4_1, IN_I8_1, F8, F8, IN_I4_1, OUT_I4_1)
)  # fmt: skip
def join_pieces(
    nx: int, ny: int, block: int, offsets: Any, z0: Any, z1: Any, void_class: Any, first: Any, start: Any, bottom:
    float, side: float, label: Any, parent: Any,
) -> None:  # fmt: skip
    """Join pieces of runs that touch within a block of columns and a slab, if they bear the same label.

    first: slab of the first piece of each run; start: its number, one more entry than runs. parent: (pieces,) forest.
    """
    for piece in range(parent.shape[0]):
        parent[piece] = piece
    for column in range(nx * ny):
        i, j = column % nx, column // nx
        for across in range(2):
            x, y = i + (1 - across), j + across
            if x >= nx or y >= ny or x // block != i // block or y // block != j // block:
                continue
            near, other = y * nx + x, offsets[y * nx + x]
            for run in range(offsets[column], offsets[column + 1]):
                while other < offsets[near + 1] and z1[other] <= z0[run]:
                    other += 1
                at = other
                while at < offsets[near + 1] and z0[at] < z1[run]:
                    same = void_class[run] == void_class[at] or void_class[run] == -2 or void_class[at] == -2
                    if same:
                        low, high = max(z0[run], z0[at]), min(z1[run], z1[at])
                        s = max(first[run], first[at])
                        last = min(first[run] + start[run + 1] - start[run], first[at] + start[at + 1] - start[at])
                        while s < last:
                            if min(high, bottom + (s + 1) * side) > max(low, bottom + s * side):
                                a, b = start[run] + s - first[run], start[at] + s - first[at]
                                if label[a] == label[b]:
                                    a, b = top_of(parent, a), top_of(parent, b)
                                    if a < b:
                                        parent[b] = a
                                    elif b < a:
                                        parent[a] = b
                            s += 1
                    at += 1


@kernel(I8(OUT_I4_1, OUT_I4_1))
def number_cells(parent: Any, cell: Any) -> int:
    """The cell of each piece; returns how many there are."""
    n = 0
    for piece in range(parent.shape[0]):
        if parent[piece] == piece:
            cell[piece] = n
            n += 1
        else:
            cell[piece] = cell[top_of(parent, piece)]
    return n


@kernel(
    VOID(
        I8, F8, F8, F8, IN_I4_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_I8_1, F8, F8, IN_I4_1,
        OUT_F8_1, OUT_F8_2, OUT_F8_1, OUT_F8_2, OUT_F4_3,
    )
)  # fmt: skip
def measure_cells(
    nx: int, x0: float, y0: float, pitch: float, column_of_run: Any, z0: Any, z1: Any, first: Any, start: Any,
    bottom: float, side: float, cell: Any, volume: Any, place: Any, longest: Any, best: Any, points: Any,
) -> None:  # fmt: skip
    """Volume of each cell, the middle of its longest piece, and its furthest points (cells, 14, 3).

    volume, longest: filled with 0 before; best: (cells, 14), filled with -inf.
    """
    for run in range(column_of_run.shape[0]):
        column = column_of_run[run]
        x, y = x0 + (column % nx + 0.5) * pitch, y0 + (column // nx + 0.5) * pitch
        for piece in range(start[run], start[run + 1]):
            s = first[run] + piece - start[run]
            low, high = max(z0[run], bottom + s * side), min(z1[run], bottom + (s + 1) * side)
            c = cell[piece]
            volume[c] += (high - low) * pitch * pitch
            if high - low > longest[c]:
                longest[c] = high - low
                place[c, 0], place[c, 1], place[c, 2] = x, y, 0.5 * (low + high)
            for k in range(14):
                z = high if WAYS[k, 2] > 0 else low
                far = x * WAYS[k, 0] + y * WAYS[k, 1] + z * WAYS[k, 2]
                if far > best[c, k]:
                    best[c, k] = far
                    points[c, k, 0], points[c, k, 1], points[c, k, 2] = x, y, z


@kernel(I8(OUT_I8_1, OUT_I4_1, OUT_I4_2, I8, I8, I8))
def contact_of(keys: Any, slots: Any, ends: Any, count: int, a: int, b: int) -> int:
    """Number of the contact of two cells, a new one (`count`) if there is none yet; -1 if the table is full."""
    if a > b:
        a, b = b, a
    key, size = (np.int64(a) << 32) | np.int64(b), keys.shape[0]
    at = (key ^ (key >> 29)) * np.int64(-7046029254386353131)
    at = (at ^ (at >> 31)) & (size - 1)
    while keys[at] != -1:
        if keys[at] == key:
            found: int = slots[at]
            return found
        at = (at + 1) & (size - 1)
    if count >= ends.shape[0]:
        return -1
    keys[at], slots[at] = key, count
    ends[count, 0], ends[count, 1] = a, b
    return count


@kernel(VOID(OUT_F8_2, OUT_F4_3, I8, F8, F8, F8, F8))
def extend(best: Any, points: Any, contact: int, x: float, y: float, low: float, high: float) -> None:
    """Take an upright line into the furthest points of a contact."""
    for k in range(14):
        z = high if WAYS[k, 2] > 0 else low
        far = x * WAYS[k, 0] + y * WAYS[k, 1] + z * WAYS[k, 2]
        if far > best[contact, k]:
            best[contact, k] = far
            points[contact, k, 0], points[contact, k, 1], points[contact, k, 2] = x, y, z


@kernel(
    I8(
        I8, I8, F8, F8, F8, IN_I8_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_I4_1, IN_I8_1, F8, F8, IN_I4_1,
        OUT_I8_1, OUT_I4_1, OUT_I4_2, OUT_F8_1, OUT_F8_2, OUT_F4_3,
    )
)  # fmt: skip
def find_contacts(
    nx: int, ny: int, x0: float, y0: float, pitch: float, offsets: Any, z0: Any, z1: Any, void_class: Any, first: Any,
    start: Any, bottom: float, side: float, cell: Any, keys: Any, slots: Any, ends: Any, area: Any, best: Any,
    points: Any,
) -> int:  # fmt: skip
    """Where cells touch: the two of each contact, its area, and its furthest points. Returns how many, or FULL if
    `ends` has no room. keys: filled with -1 before, a power of two long; best: filled with -inf, area with 0."""
    n = 0
    for column in range(nx * ny):
        i, j = column % nx, column // nx
        x, y = x0 + (i + 0.5) * pitch, y0 + (j + 0.5) * pitch
        for run in range(offsets[column], offsets[column + 1]):
            for piece in range(start[run], start[run + 1] - 1):
                if cell[piece] == cell[piece + 1]:
                    continue
                z = bottom + (first[run] + piece - start[run] + 1) * side
                found = contact_of(keys, slots, ends, n, cell[piece], cell[piece + 1])
                if found < 0:
                    return -1
                n = max(n, found + 1)
                area[found] += pitch * pitch
                extend(best, points, found, x, y, z, z)
        for across in range(2):
            i2, j2 = i + (1 - across), j + across
            if i2 >= nx or j2 >= ny:
                continue
            near, other = j2 * nx + i2, offsets[j2 * nx + i2]
            mx, my = x + 0.5 * pitch * (1 - across), y + 0.5 * pitch * across
            for run in range(offsets[column], offsets[column + 1]):
                while other < offsets[near + 1] and z1[other] <= z0[run]:
                    other += 1
                at = other
                while at < offsets[near + 1] and z0[at] < z1[run]:
                    same = void_class[run] == void_class[at] or void_class[run] == -2 or void_class[at] == -2
                    if same:
                        s = max(first[run], first[at])
                        last = min(first[run] + start[run + 1] - start[run], first[at] + start[at + 1] - start[at])
                        while s < last:
                            low = max(z0[run], z0[at], bottom + s * side)
                            high = min(z1[run], z1[at], bottom + (s + 1) * side)
                            a, b = cell[start[run] + s - first[run]], cell[start[at] + s - first[at]]
                            if high > low and a != b:
                                found = contact_of(keys, slots, ends, n, a, b)
                                if found < 0:
                                    return -1
                                n = max(n, found + 1)
                                area[found] += pitch * (high - low)
                                extend(best, points, found, mx, my, low, high)
                            s += 1
                    at += 1
    return n
