"""Faces of a mesh that go through each other."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.closest_kernels import LEAF, NODE, bound_nodes, gather_corners
from ventplanner.geometry.crossing_kernels import crossing_pairs
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.spatial_order import morton_order

DEPTH_MM = 2e-5
"""Corners that are no further than this behind a face do not go through it: rounding of float32 up to some 100 mm."""

_PIECES = 32


def crossings(vertices: FloatArray, faces: IntArray, least: float = DEPTH_MM) -> NDArray[np.int64]:
    """(k, 2) faces that go through each other by more than `least` mm and rounding; never pairs with a common edge.

    vertices (n, 3) mm, faces (m, 3), m > 0. In one thread for each core; about a second for a million faces.
    """
    order = morton_order(vertices, faces)
    faces = np.ascontiguousarray(faces[order])
    leaves = 1
    while leaves * LEAF < len(faces):
        leaves *= 2
    corners, bounds = np.empty((len(faces), 9)), np.empty((2 * leaves - 1, NODE))
    gather_corners(vertices, faces, corners)
    bound_nodes(corners, bounds)
    reach = max(least, 4.0 * float(np.spacing(np.float32(np.abs(vertices).max(initial=0.0)))))

    def some(start: int, stop: int) -> NDArray[np.int64]:
        pairs = np.empty((1024, 2), np.int64)
        while True:
            found = crossing_pairs(corners, faces, bounds, start, stop, reach, pairs)
            if found <= len(pairs):
                return pairs[:found]
            pairs = np.empty((found, 2), np.int64)

    ends = np.linspace(0, -(-len(faces) // LEAF), _PIECES + 1).astype(int).tolist()
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        return np.asarray(order[np.vstack(list(pool.map(some, ends[:-1], ends[1:])))], dtype=np.int64)
