"""Polygons of a mesh file into triangles, in the order of the file."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray

IndexArray = NDArray[np.int64]


def triangulate(points: FloatArray, corners: IndexArray, sizes: IndexArray) -> tuple[IndexArray, IndexArray]:
    """Cut polygons into triangles without new vertices: (m, 3) vertex indices and (m,) the polygon of each.

    corners: the vertex indices of all polygons one after the other; sizes: (k,) how many each has (those with less
    than three are left out). A convex polygon becomes a fan from its first corner; any other is cut ear by ear
    (G. H. Meisters, Polygons have ears, 1975) in the plane of its Newell normal. The triangles of one polygon
    always have the same boundary as the polygon, so a closed mesh stays closed.
    """
    firsts = np.cumsum(sizes) - sizes
    counts = np.maximum(sizes - 2, 0)
    places = np.cumsum(counts) - counts
    triangles = np.empty((int(counts.sum()), 3), dtype=np.int64)
    for size in np.unique(sizes[sizes >= 3]).tolist():
        chosen = np.flatnonzero(sizes == size)
        rows = corners[firsts[chosen, None] + np.arange(size)]
        fan = np.stack([np.zeros(size - 2, int), np.arange(1, size - 1), np.arange(2, size)], axis=1)
        cut = rows[:, fan]
        if size > 3:
            for row in np.flatnonzero(~_convex(points, rows)).tolist():
                cut[row] = rows[row][_ears(_flat(points[rows[row]]))]
        triangles[places[chosen, None] + np.arange(size - 2)] = cut
    return triangles, np.repeat(np.arange(len(sizes)), counts)


def _newell(loops: FloatArray) -> FloatArray:
    """Area vectors (..., 3), twice the area long, of loops (..., n, 3) (M. Newell, in Sutherland et al. 1974)."""
    centred = loops - loops[..., :1, :]
    normals: FloatArray = np.cross(centred, np.roll(centred, -1, axis=-2)).sum(axis=-2)
    return normals


def _convex(points: FloatArray, rows: IndexArray) -> NDArray[np.bool_]:
    """(k,) whether each polygon of rows (k, n) turns to the same side at every corner."""
    loops = points[rows]
    edges = np.roll(loops, -1, axis=1) - loops
    turns = np.einsum("knj,kj->kn", np.cross(np.roll(edges, 1, axis=1), edges), _newell(loops))
    convex: NDArray[np.bool_] = (turns >= 0).all(axis=1)
    return convex


def _flat(loop: FloatArray) -> FloatArray:
    """(n, 2): the loop seen against its normal, so that it runs counter-clockwise."""
    normal = _newell(loop)
    drop = int(np.argmax(np.abs(normal)))
    keep = [(1, 2), (2, 0), (0, 1)][drop]
    flat = loop[:, keep]
    return flat if normal[drop] >= 0 else flat[:, ::-1]


def _ears(flat: FloatArray) -> IndexArray:
    """(n - 2, 3) corners of the triangles of one counter-clockwise loop (n, 2); a fan of what has no ear left."""
    left = list(range(len(flat)))
    triangles = []
    while len(left) > 3:
        for i in range(len(left)):
            ear = (left[i - 1], left[i], left[(i + 1) % len(left)])
            if _is_ear(flat, ear, left):
                triangles.append(ear)
                del left[i]
                break
        else:
            triangles.extend((left[0], left[i], left[i + 1]) for i in range(1, len(left) - 2))
            left = [left[0], left[-2], left[-1]]
    triangles.append((left[0], left[1], left[2]))
    return np.array(triangles, dtype=np.int64)


def _is_ear(flat: FloatArray, ear: tuple[int, int, int], left: list[int]) -> bool:
    a, b, c = flat[list(ear)]
    if _turn(a, b, c) <= 0:
        return False
    others = flat[[i for i in left if i not in ear]]
    inside = (_turn(a, b, others) >= 0) & (_turn(b, c, others) >= 0) & (_turn(c, a, others) >= 0)
    # A corner that only touches the ear at one of its own corners (a doubled vertex) does not block it.
    touching = (others == a).all(axis=1) | (others == b).all(axis=1) | (others == c).all(axis=1)
    return not bool((inside & ~touching).any())


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Twice the signed area of the triangle a, b, c: positive when it turns left."""
    turn: FloatArray = (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (
        c[..., 0] - a[..., 0]
    )
    return turn
