"""A patch over a round mouth: it goes on from the skin round it, with its slope and its curvature."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from ventplanner.geometry.solid import FloatArray, IntArray

RINGS, AROUND = (0.75, 0.5, 0.25), 24
"""Points inside a patch: rings at these shares of its radius, so many on each, and its middle."""


def boundary_loops(faces: IntArray) -> list[list[int]] | None:
    """The rims of a set of faces (m, 3), each as vertices in the direction in which its faces run; None where rims meet
    in a vertex."""
    edges = np.vstack([faces[:, [k, (k + 1) % 3]] for k in range(3)]).astype(np.int64)
    code = edges[:, 0] * (int(faces.max()) + 1) + edges[:, 1]
    back = edges[:, 1] * (int(faces.max()) + 1) + edges[:, 0]
    rim = edges[~np.isin(code, back)]
    after = dict(rim.tolist())
    if len(after) != len(rim):
        return None
    loops = []
    while after:
        start, at = next(iter(after.items()))
        loop = [start]
        del after[start]
        while at != start:
            loop.append(at)
            if at not in after:
                return None
            at = after.pop(at)
        loops.append(loop)
    return loops


def quadratic(points: FloatArray) -> FloatArray:
    """(6,) coefficients of the height z = a + b x + c y + d x^2 + e x y + f y^2 nearest to points (k, 3), by least
    squares; what stands out by more than three times the usual is left out of a second fit."""
    use = np.ones(len(points), dtype=bool)
    for _ in range(2):
        terms = _terms(points[use, :2])
        found = np.linalg.lstsq(terms, points[use, 2], rcond=None)[0]
        off = np.abs(points[:, 2] - _terms(points[:, :2]) @ found)
        use = off <= 3.0 * max(float(np.median(off)), 1e-4)
    return np.asarray(found)


def heights(flat: FloatArray, rim: FloatArray, skin: FloatArray) -> FloatArray:
    """(k,) height of a patch at (k, 2) points: the surface of `quadratic`, brought to the height of its rim (n, 3).

    What is missing at the rim is spread over it by mean value coordinates (Floater 2003, "Mean value coordinates",
    Computer Aided Geometric Design 20, 19, eq. 2.1).
    """
    missing = rim[:, 2] - _terms(rim[:, :2]) @ skin
    away = rim[None, :, :2] - flat[:, None]
    far = np.maximum(np.linalg.norm(away, axis=2), 1e-12)
    following = np.roll(away, -1, axis=1)
    cross = away[..., 0] * following[..., 1] - away[..., 1] * following[..., 0]
    dot = (away * following).sum(axis=2)
    half = np.tan(0.5 * np.arctan2(cross, dot))
    weight = (half + np.roll(half, 1, axis=1)) / far
    weight /= weight.sum(axis=1, keepdims=True)
    return np.asarray(_terms(flat) @ skin + weight @ missing)


def inner_points(radius: float) -> FloatArray:
    """(p, 2) where a patch has points inside: its rings, then its middle."""
    angle = (np.arange(AROUND) + 0.31) * (2.0 * math.pi / AROUND)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.vstack([*(share * radius * ring for share in RINGS), [[0.0, 0.0]]])


def patch_faces(rim: FloatArray, loop: Sequence[int], first: int) -> IntArray | None:
    """(k, 3) faces between a rim (n, 2) with the vertices `loop` and `inner_points`, the vertices from `first` on; they
    run the rim in the direction of the loop. None where the rim does not go once round the middle."""
    angle = np.arctan2(rim[:, 1], rim[:, 0])
    step = np.diff(np.append(angle, angle[0]))
    step = np.remainder(step + math.pi, 2.0 * math.pi) - math.pi
    way = 1 if step.sum() > 0.0 else -1
    if (way * step <= 0.0).any() or abs(abs(float(step.sum())) - 2.0 * math.pi) > 1e-6:
        return None
    inner = np.asarray((np.arange(AROUND) + 0.31) * (2.0 * math.pi / AROUND), dtype=np.float64)
    rings = [[first + k * AROUND + i for i in range(AROUND)] for k in range(len(RINGS))]
    if way < 0:
        inner, rings = inner[::-1], [ring[::-1] for ring in rings]
    found = _between(way * angle, list(loop), way * inner, rings[0])
    for outer, within in pairwise(rings):
        found += _between(way * inner, outer, way * inner, within)
    middle = first + len(RINGS) * AROUND
    found += [(rings[-1][i], rings[-1][(i + 1) % AROUND], middle) for i in range(AROUND)]
    return np.array(found, dtype=np.int32)


def _between(
    outer_at: FloatArray, outer: list[int], inner_at: FloatArray, inner: list[int]
) -> list[tuple[int, int, int]]:
    """Faces between two rings by their angles, which rise; each step is along the ring whose next point is first."""
    whole = 2.0 * math.pi
    start = float(outer_at[0])
    a = np.remainder(outer_at - start, whole)
    shift = int(np.argmin(np.remainder(inner_at - start, whole)))
    b = np.remainder(np.roll(inner_at, -shift) - start, whole)
    inner = inner[shift:] + inner[:shift]
    a, b = np.append(a, whole), np.append(b, b[0] + whole)
    i = j = 0
    found = []
    while i < len(outer) or j < len(inner):
        now = inner[j % len(inner)]
        if j == len(inner) or (i < len(outer) and a[i + 1] <= b[j + 1]):
            found.append((outer[i], outer[(i + 1) % len(outer)], now))
            i += 1
        else:
            found.append((outer[i % len(outer)], inner[(j + 1) % len(inner)], now))
            j += 1
    return found


def _terms(flat: FloatArray) -> FloatArray:
    x, y = flat[:, 0], flat[:, 1]
    return np.stack([np.ones(len(flat)), x, y, x * x, x * y, y * y], axis=1)
