"""Holes of an open skin, closed for measuring: the wall is kept under them, too."""

from __future__ import annotations

import numpy as np

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.topology import Topology


def capped(vertices: FloatArray, faces: IntArray, found: Topology) -> tuple[FloatArray, IntArray, int]:
    """The mesh with a fan from the middle of each hole's rim to all its edges, and how many holes there are.

    It is used to measure, and never written. found: topology of the mesh.
    """
    if not len(found.open_edges):
        return vertices, faces, 0
    edges = _outline(faces, found.open_edges)
    after = {int(a): k for k, (a, _) in enumerate(edges)}
    left, points, fans, holes = set(range(len(edges))), [], [], 0
    while left:
        k = left.pop()
        loop = [k]
        while (k := after.get(int(edges[k, 1]), -1)) in left:
            left.discard(k)
            loop.append(k)
        middle = vertices[edges[loop, 0]].mean(axis=0)
        tip = len(vertices) + holes
        points.append(middle)
        fans += [(int(b), int(a), tip) for a, b in edges[loop]]
        holes += 1
    whole = np.concatenate((faces, np.array(fans, dtype=np.int32)))
    return np.concatenate((vertices, np.array(points))), whole, holes


def _outline(faces: IntArray, open_edges: IntArray) -> IntArray:
    """The open edges as their faces go along them."""
    directed = np.concatenate([faces[:, [k, (k + 1) % 3]] for k in range(3)])
    n = int(faces.max()) + 1
    wanted = np.unique(np.sort(open_edges.astype(np.int64), axis=1) @ np.array([n, 1]))
    key = np.sort(directed.astype(np.int64), axis=1) @ np.array([n, 1])
    return np.asarray(directed[np.isin(key, wanted)])
