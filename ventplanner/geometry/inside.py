"""Which skins lie around a point: winding numbers of many points by one upward ray each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.jit import kernel
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology
from ventplanner.geometry.topology_kernels import LongArray


@dataclass(frozen=True, eq=False)
class Windings:
    """Skins that wind around points: entry k says that skin[k] winds winding[k] times around point[k].

    All (k,) int64, sorted by point, then skin; a skin that does not wind around a point has no entry.
    """

    point: LongArray
    skin: LongArray
    winding: LongArray


def windings(solid: Solid, topology: Topology, points: FloatArray, own: IntArray | None = None) -> Windings:
    """How often each skin winds around each point, for skins whose bounds enclose those of the point's own skin.

    points: (p, 3) float64 in mm; own: (p,) int32, the skin that a point belongs to, whose own winding is not asked
    for; without it every skin is asked. +1 means inside an outward skin, -1 inside an inward one. Counting signed
    crossings of a ray is exact for a closed skin (Haines 1994, "Point in polygon strategies", crossings test); edges
    and vertices met by the ray count once because each edge is judged by the same sum from both of its faces and
    half-open in y.
    """
    face, point = _above(solid, points)
    if own is not None:
        inner, outer = topology.bounds_of_skin[own[point]], topology.bounds_of_skin[topology.skin_of_face[face]]
        enclosed = (outer[:, 0] < inner[:, 0]).all(axis=1) & (outer[:, 1] > inner[:, 1]).all(axis=1)
        face, point = face[enclosed], point[enclosed]
    turn = _turns(solid.vertices, solid.faces[face], points[point])
    hit = turn != 0
    face, point, turn = face[hit], point[hit], turn[hit]
    over = _heights(solid.vertices, solid.faces[face], points[point]) > points[point, 2]
    crossed = point[over].astype(np.int64) * topology.n_skins + topology.skin_of_face[face[over]]
    pairs, where = np.unique(crossed, return_inverse=True)
    total = np.bincount(where, turn[over], len(pairs)).astype(np.int64)
    kept = total != 0
    return Windings(pairs[kept] // topology.n_skins, pairs[kept] % topology.n_skins, total[kept])


def crossings_above(solid: Solid, points: FloatArray, own: IntArray) -> LongArray:
    """(p,) how many faces lie over each of (p, 3) points, whatever their winding; own: (p,) a face that is left out."""
    face, point = _above(solid, points)
    other = face != own[point]
    face, point = face[other], point[other]
    hit = _turns(solid.vertices, solid.faces[face], points[point]) != 0
    face, point = face[hit], point[hit]
    over = _heights(solid.vertices, solid.faces[face], points[point]) > points[point, 2]
    counted: LongArray = np.bincount(point[over], minlength=len(points))
    return counted


def _turns(vertices: FloatArray, corners: IntArray, points: FloatArray) -> LongArray:
    """How often each triangle, seen from above, winds around its point: 1, 0 or -1.

    An edge counts when it passes the point's y on the side of greater x. It is judged with its lower vertex first,
    so both faces of an edge judge it alike and no ray slips through between them.
    """
    turn = np.zeros(len(corners), np.int64)
    x, y = points[:, 0], points[:, 1]
    for k in range(3):
        a, b = corners[:, k], corners[:, (k + 1) % 3]
        low, high = vertices[np.minimum(a, b)], vertices[np.maximum(a, b)]
        spans = (low[:, 1] > y) != (high[:, 1] > y)
        side = (high[:, 0] - low[:, 0]) * (y - low[:, 1]) - (high[:, 1] - low[:, 1]) * (x - low[:, 0])
        upward = high[:, 1] > low[:, 1]
        right = spans & ((side > 0) == upward)
        turn += np.where(right, np.where(upward == (a < b), 1, -1), 0)
    return turn


def _heights(vertices: FloatArray, corners: IntArray, points: FloatArray) -> FloatArray:
    """z of each triangle's plane at its point; the mean of the corners where the triangle is upright."""
    a, b, c = (vertices[corners[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    upright = normal[:, 2] == 0
    slope = ((a - points) * normal)[:, :2].sum(axis=1) / np.where(upright, 1.0, normal[:, 2])
    height: FloatArray = np.where(upright, (a + b + c)[:, 2] / 3.0, a[:, 2] + slope)
    return height


def _above(solid: Solid, points: FloatArray) -> tuple[IntArray, IntArray]:
    """All pairs of a face and a point over which the face's bounds reach, found on a square grid over x and y."""
    if not len(points):
        return np.empty(0, np.int32), np.empty(0, np.int32)
    order, start, grid = on_grid(points)
    room = max(16 * len(points), 1024)
    while True:
        face, place = np.empty(room, np.int32), np.empty(room, np.int32)
        found = _find_above(solid.vertices, solid.faces, points[order], start, grid, face, place)
        if found <= room:
            return face[:found], order[place[:found]]
        room = found


def on_grid(points: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
    """(p, 3) points put on a square grid over x and y: their order by cell, where each cell begins, (2, 2) lowest x and
    y, cells per mm; cell (i, j) has the number i * side + j."""
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    side = int(np.clip(np.sqrt(len(points)), 1, 512))
    grid = np.array([low, side / np.maximum(high - low, 1e-9)])
    cell = np.minimum(((points[:, :2] - low) * grid[1]).astype(np.int64), side - 1)
    key = cell[:, 0] * side + cell[:, 1]
    order = np.argsort(key, kind="stable").astype(np.int32)
    return order, np.searchsorted(key[order], np.arange(side * side + 1)).astype(np.int32), grid


@kernel("i8(Array(f8, 2, 'C', True), Array(i4, 2, 'C', True), f8[:, ::1], i4[::1], f8[:, ::1], i4[::1], i4[::1])")
def _find_above(
    vertices: FloatArray,
    faces: IntArray,
    points: FloatArray,
    start: IntArray,
    grid: FloatArray,
    face: IntArray,
    place: IntArray,
) -> int:
    """Fill `face` and `place` with the pairs where the face's bounds reach over the point; returns their number.

    The number may be more than there was room for. points: (p, 3), sorted by grid cell; those of cell (i, j) are
    points[start[i * side + j]:start[i * side + j + 1]]. grid: lowest x and y, cells per mm.
    """
    found = 0
    side = int(np.sqrt(start.shape[0] - 1))
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        x0 = min(vertices[a, 0], vertices[b, 0], vertices[c, 0])
        x1 = max(vertices[a, 0], vertices[b, 0], vertices[c, 0])
        y0 = min(vertices[a, 1], vertices[b, 1], vertices[c, 1])
        y1 = max(vertices[a, 1], vertices[b, 1], vertices[c, 1])
        top = max(vertices[a, 2], vertices[b, 2], vertices[c, 2])
        # Clamped to the grid before they become whole numbers, so that a far vertex cannot overflow.
        i0 = int(min(max((x0 - grid[0, 0]) * grid[1, 0], 0.0), side - 1.0))
        i1 = int(min(max((x1 - grid[0, 0]) * grid[1, 0], 0.0), side - 1.0)) + 1
        j0 = int(min(max((y0 - grid[0, 1]) * grid[1, 1], 0.0), side - 1.0))
        j1 = int(min(max((y1 - grid[0, 1]) * grid[1, 1], 0.0), side - 1.0)) + 1
        for i in range(i0, i1):
            for p in range(start[i * side + j0], start[i * side + j1]):
                if x0 <= points[p, 0] <= x1 and y0 <= points[p, 1] <= y1 and points[p, 2] <= top:
                    if found < face.shape[0]:
                        face[found], place[found] = f, p
                    found += 1
    return found
