"""The best way to span a closed loop of vertices with triangles between these vertices alone."""

from __future__ import annotations

import numpy as np

from ventplanner.geometry.boolean import triangulated
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.mending.model import Flags, LongArray

MOST_VERTICES = 250
"""Longer loops are spanned only where they are nearly plane."""

PLANE_SHARE = 0.02
"""A loop is nearly plane when no vertex is further off its plane than this share of its width."""

_ANGLE_STEP = 0.02
_NEVER = 100.0
_AT_ONCE = 2_000_000


def span(points: FloatArray, beyond: FloatArray, taken: Flags) -> LongArray:
    """Triangles (b, n - 2, 3), as places in the loop, that span b loops of n vertices.

    points: (b, n, 3) mm; beyond: (b, n, 3), unit normal of the face across the side from vertex i to the next; taken:
    (b, n, n) bool, pairs of vertices that must not be joined. Of all triangulations the one whose largest bend between
    neighbours, those across the sides included, is least, and of these the one of least area (Liepa 2003, "Filling
    holes in meshes", section 3, after Barequet & Sharir 1995); dynamic programming, n^3 / 6 triangles.
    """
    b, n = points.shape[:2]
    if n == 3:
        return np.broadcast_to(np.arange(3), (b, 1, 3)).copy()
    chunk = max(1, _AT_ONCE // n**2)
    parts = [_span_some(points[k : k + chunk], beyond[k : k + chunk], taken[k : k + chunk]) for k in range(0, b, chunk)]
    return np.concatenate(parts)


def _span_some(points: FloatArray, beyond: FloatArray, taken: Flags) -> LongArray:
    b, n = points.shape[:2]
    scale = np.linalg.norm(np.roll(points, -1, axis=1) - points, axis=2).sum(axis=1)[:, None, None] ** 2
    bend, area, via = np.zeros((b, n, n)), np.zeros((b, n, n)), np.zeros((b, n, n), np.int64)
    normal = np.zeros((b, n, n, 3))
    normal[:, np.arange(n - 1), np.arange(1, n)] = beyond[:, :-1]
    for gap in range(2, n):
        i = np.arange(n - gap)[:, None]
        m, k = i + np.arange(1, gap), i + gap
        cross = np.cross(points[:, m] - points[:, i], points[:, k] - points[:, i])
        twice = np.linalg.norm(cross, axis=3)
        unit = cross / np.maximum(twice, np.finfo(float).tiny)[..., None]
        worst = np.maximum(_bend(unit, normal[:, i, m]), _bend(unit, normal[:, m, k]))
        if gap == n - 1:
            worst = np.maximum(worst, _bend(unit, beyond[:, -1, None, None]))
        worst = np.maximum(worst, np.maximum(bend[:, i, m], bend[:, m, k]))
        if gap < n - 1:
            worst = np.where(taken[:, i, k], _NEVER, worst)
        total = 0.5 * twice + area[:, i, m] + area[:, m, k]
        best = (np.round(worst / _ANGLE_STEP) + total / scale).argmin(axis=2)[..., None]
        rows = np.arange(n - gap)
        bend[:, rows, rows + gap] = np.take_along_axis(worst, best, 2)[..., 0]
        area[:, rows, rows + gap] = np.take_along_axis(total, best, 2)[..., 0]
        via[:, rows, rows + gap] = best[..., 0] + 1 + rows
        normal[:, rows, rows + gap] = np.take_along_axis(unit, best[..., None], 2)[:, :, 0]
    return np.array([_unrolled(one) for one in via])


def _bend(a: FloatArray, b: FloatArray) -> FloatArray:
    """1 - cosine of the angle between unit normals; 2 is a fold."""
    bend: FloatArray = 1.0 - np.einsum("...k,...k->...", a, np.broadcast_to(b, a.shape))
    return bend


def _unrolled(via: LongArray) -> list[tuple[int, int, int]]:
    triangles, todo = [], [(0, len(via) - 1)]
    while todo:
        i, k = todo.pop()
        if k - i < 2:
            continue
        m = int(via[i, k])
        triangles.append((i, m, k))
        todo += [(i, m), (m, k)]
    return triangles


def span_plane(points: FloatArray) -> IntArray | None:
    """Triangles (n - 2, 3), as places in the loop, of one loop (n, 3) that is nearly plane; None if it is not."""
    middle = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - middle, full_matrices=False)
    flat = (points - middle) @ axes.T
    width = float(np.linalg.norm(np.ptp(points, axis=0)))
    if np.abs(flat[:, 2]).max() > PLANE_SHARE * width:
        return None
    x, y = flat[:, 0], flat[:, 1]
    against = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) < 0.0
    if against:
        x = -x
    found = triangulated(np.stack([x, y], axis=1))
    return found if len(found) == len(points) - 2 else None
