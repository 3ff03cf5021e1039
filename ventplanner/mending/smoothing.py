"""A patch that spans a hole gets triangles as fine as those around it, and goes on as the skin around does."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array, csr_array, diags_array
from scipy.sparse.linalg import splu

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.mending.model import Flags, LongArray

_DENSITY = np.sqrt(2.0)
_ROUNDS = 14
_FLIP_ROUNDS = 6


def refine(points: FloatArray, faces: IntArray, size: FloatArray) -> tuple[FloatArray, IntArray]:
    """Divide the triangles of patches until they are as fine as their rims.

    points: (n, 3) vertices of the rims; faces: (m, 3); size: (n,) mm, mean length of the edges at each vertex. Returns
    points, the new ones last, and faces. A face is divided at its centroid where that is far from all corners as
    measured by size, and edges are turned over where the angles across sum up to more than 180 degrees (Liepa 2003,
    section 4, after Pfeifle & Seidel 1996).
    """
    for _ in range(_ROUNDS):
        corners = points[faces]
        middle, fine = corners.mean(axis=1), size[faces].mean(axis=1)
        away = _DENSITY * np.linalg.norm(corners - middle[:, None], axis=2)
        chosen = np.flatnonzero(((away > fine[:, None]) & (away > size[faces])).all(axis=1))
        if not len(chosen):
            break
        new = len(points) + np.arange(len(chosen))
        a, b, c = faces[chosen].T
        faces = faces.copy()
        faces[chosen, 2] = new
        faces = np.vstack([faces, np.stack([b, c, new], 1), np.stack([c, a, new], 1)]).astype(np.int32)
        points, size = np.vstack([points, middle[chosen]]), np.concatenate([size, fine[chosen]])
        for _ in range(_FLIP_ROUNDS):
            faces, count = _flip(points, faces)
            if not count:
                break
    return points, faces


def _flip(points: FloatArray, faces: IntArray) -> tuple[IntArray, int]:
    """Turn edges over that are not Delaunay, of each face at most one."""
    start, end = faces.reshape(-1).astype(np.int64), np.roll(faces, -1, axis=1).reshape(-1).astype(np.int64)
    key, back = start << 32 | end, end << 32 | start
    order = np.argsort(key)
    at = np.minimum(np.searchsorted(key[order], back), len(key) - 1)
    half = np.flatnonzero((key[order[at]] == back) & (start < end))
    mate = order[at[half]]
    tip, far = (faces[h // 3, (h + 2) % 3] for h in (half, mate))
    sum_of_angles = _angle(points, tip, start[half], end[half]) + _angle(points, far, start[half], end[half])
    low, high = np.minimum(tip, far).astype(np.int64), np.maximum(tip, far).astype(np.int64)
    wanted = np.flatnonzero((sum_of_angles > np.pi + 1e-6) & _convex(points, half, start, end, tip, far))
    wanted = wanted[~np.isin(low[wanted] << 32 | high[wanted], np.minimum(start, end) << 32 | np.maximum(start, end))]
    # The worst first; a face, and a new edge, only once.
    wanted = wanted[np.argsort(-sum_of_angles[wanted], kind="stable")]
    rank = np.full(len(faces), len(wanted))
    place = np.arange(len(wanted))
    f, g = half[wanted] // 3, mate[wanted] // 3
    np.minimum.at(rank, f, place)
    np.minimum.at(rank, g, place)
    free = (rank[f] == place) & (rank[g] == place)
    _, once = np.unique((low << 32 | high)[wanted[free]], return_index=True)
    wanted = wanted[free][once]
    f, g = half[wanted] // 3, mate[wanted] // 3
    faces = faces.copy()
    faces[f] = np.stack([tip[wanted], start[half[wanted]], far[wanted]], axis=1)
    faces[g] = np.stack([far[wanted], end[half[wanted]], tip[wanted]], axis=1)
    return faces, len(wanted)


def _convex(
    points: FloatArray, half: LongArray, start: LongArray, end: LongArray, tip: IntArray, far: IntArray
) -> Flags:
    """Whether both triangles keep their side when the edge is turned over."""
    a, b, c, d = points[start[half]], points[end[half]], points[tip], points[far]
    normal = np.cross(b - a, c - a) + np.cross(a - b, d - b)
    one, two = np.cross(a - c, d - c), np.cross(b - d, c - d)
    kept: Flags = ((one * normal).sum(axis=1) > 0) & ((two * normal).sum(axis=1) > 0)
    return kept


def _angle(points: FloatArray, tip: IntArray, a: LongArray, b: LongArray) -> FloatArray:
    u, v = points[a] - points[tip], points[b] - points[tip]
    angle: FloatArray = np.arctan2(np.linalg.norm(np.cross(u, v), axis=1), (u * v).sum(axis=1))
    return angle


def fair(points: FloatArray, faces: IntArray, free: Flags, rim: Flags) -> FloatArray:
    """Positions of the free vertices, (k, 3), so that the surface bends as little as it can.

    points: (n, 3); faces: of the patch and of the skin around it, at least all that meet its rim; free, rim: (n,) bool.
    The least sum of squares of the umbrella operator over free and rim vertices, with weights 1 / length (Kobbelt et
    al. 1998, "Interactive multi-resolution modeling on arbitrary meshes"; Liepa 2003, section 5): thin-plate energy.
    """
    n = len(points)
    start, end = faces.reshape(-1), np.roll(faces, -1, axis=1).reshape(-1)
    low, high = np.minimum(start, end).astype(np.int64), np.maximum(start, end).astype(np.int64)
    pair = np.unique(low << 32 | high)
    low, high = pair >> 32, pair & 0xFFFFFFFF
    weight = 1.0 / np.maximum(np.linalg.norm(points[low] - points[high], axis=1), 1e-9)
    both = (np.concatenate([low, high]), np.concatenate([high, low]))
    near = csr_array(coo_array((np.tile(weight, 2), both), shape=(n, n)))
    umbrella = diags_array(1.0 / np.maximum(near.sum(axis=1), 1e-300)) @ near - diags_array(np.ones(n))
    rows = csr_array(umbrella)[np.flatnonzero(free | rim)]
    inner = np.flatnonzero(free)
    unknown = rows[:, inner]
    known = np.where(free[:, None], 0.0, points)
    factor = splu((unknown.T @ unknown).tocsc())
    solved: FloatArray = factor.solve(np.asarray(-(unknown.T @ (rows @ known))))
    return solved
