"""The closed surface between the positive and the negative nodes of a grid: marching cubes, with a table made here.

Lorensen & Cline 1987, Computer Graphics 21(4). In a face of a cell with two positive corners across from each other,
these are kept apart; that rule looks at the face alone, so cells beside each other agree and the surface is closed. No
diagonal of a loop lies in a face of its cell, so no two cells draw the same one: every edge has exactly two faces.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.contour_kernels import count_surface, draw_surface
from ventplanner.geometry.solid import FloatArray, IntArray

LongArray = NDArray[np.int64]
Edge = int
Loop = tuple[Edge, ...]


@dataclass(frozen=True, eq=False)
class Cases:
    """Triangles of each of the 256 cases: (256,) first row and number of rows in the table of edges, (t, 3)."""

    starts: LongArray
    lengths: LongArray
    table: LongArray


def surface(values: NDArray[np.float32], origin: FloatArray, step: float) -> tuple[FloatArray, IntArray]:
    """Vertices (n, 3) mm and faces (m, 3) of the surface where values (nz, ny, nx) are 0, between nodes linearly.

    The outermost nodes have to be negative. origin: (3,) x, y, z of the first node. Faces are counter-clockwise seen
    from where the values are positive. Every edge has two faces.
    """
    known, count = cases(), np.zeros(2, dtype=np.int64)
    count_surface(values, known.lengths, count)
    vertices, faces = np.empty((int(count[0]), 3)), np.empty((int(count[1]), 3), dtype=np.int32)
    draw_surface(values, origin, step, known.starts, known.lengths, known.table, vertices, faces)
    return vertices, faces


@cache
def cases() -> Cases:
    """The table: loops of crossings in each case, each divided into triangles."""
    rows: list[Loop] = []
    starts, lengths = np.zeros(256, dtype=np.int64), np.zeros(256, dtype=np.int64)
    for case in range(256):
        starts[case] = len(rows)
        for loop in _loops(case):
            triangles = _divided(loop)
            if triangles is None:  # pragma: no cover - does not happen with this rule; tested
                raise AssertionError(f"Case {case} has no triangles.")
            rows += triangles
        lengths[case] = len(rows) - starts[case]
    return Cases(starts, lengths, np.array(rows, dtype=np.int64))


def _edge(a: int, b: int) -> Edge:
    """The number of the edge between two corners: 4 times its axis, and which of the four along that axis."""
    axis = {1: 0, 2: 1, 4: 2}[a ^ b]
    low = min(a, b)
    others = [k for k in range(3) if k != axis]
    return 4 * axis + (low >> others[0] & 1) + 2 * (low >> others[1] & 1)


def _faces() -> tuple[tuple[int, int, int, int], ...]:
    """The corners of each of the six faces, counter-clockwise seen from outside the cell."""
    found = []
    for axis in range(3):
        u, v = 1 << (axis + 1) % 3, 1 << (axis + 2) % 3
        found.append((0, v, u | v, u))
        w = 1 << axis
        found.append((w, w | u, w | u | v, w | v))
    return tuple(found)


_FACES = _faces()
_IN_FACE = tuple(frozenset(_edge(f[k], f[(k + 1) % 4]) for k in range(4)) for f in _FACES)


def _loops(case: int) -> list[Loop]:
    """Loops of crossings round the positive corners, counter-clockwise seen from them."""
    follows: dict[Edge, Edge] = {}
    for face in _FACES:
        sign = [bool(case >> corner & 1) for corner in face]
        for k in range(4):
            if sign[k] or not sign[(k + 1) % 4]:
                continue
            last = k + 1
            while sign[(last + 1) % 4]:
                last += 1
            into = _edge(face[k], face[(k + 1) % 4])
            out = _edge(face[last % 4], face[(last + 1) % 4])
            follows[out] = into
    loops = []
    while follows:
        first = at = min(follows)
        loop = []
        while True:
            loop.append(at)
            at = follows.pop(at)
            if at == first:
                break
        loops.append(tuple(loop))
    return loops


def _divided(loop: Loop) -> list[Loop] | None:
    """The loop in triangles without a diagonal in a face of the cell; None if there is no way."""
    if len(loop) == 3:
        return [loop]
    a, b = loop[0], loop[1]
    for k in range(2, len(loop)):
        parts: list[Loop] = [(a, b, loop[k])]
        for part in (loop[1 : k + 1], (*loop[k:], a)):
            if len(part) < 3:
                continue
            inner = _divided(part) if _is_free(part[0], part[-1]) else None
            if inner is None:
                break
            parts += inner
        else:
            return parts
    return None


def _is_free(a: Edge, b: Edge) -> bool:
    return not any(a in edges and b in edges for edges in _IN_FACE)
