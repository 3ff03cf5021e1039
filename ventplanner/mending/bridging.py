"""Gaps that run all round a part: two rims that face each other, and the strip of faces between them."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ventplanner.geometry.solid import FloatArray
from ventplanner.mending.model import LongArray

GAP_SHARE = 1.0 / 3.0
"""Two rims bound one gap only where it is nowhere wider than this share of the narrower rim's width."""

TOWARDS = 0.4
"""And where the skin at each goes on towards the other: cosine of the angle between, mean along the rim, which may be
jagged. Holes that face each other through a wall lie across it instead."""


def facing(rims: list[FloatArray], onward: list[FloatArray], largest: float) -> list[tuple[int, int]]:
    """Pairs of rims that bound one gap, nowhere wider than `largest` mm.

    rims: (n, 3) mm each, in order; onward: (n, 3) unit, where the skin goes on.
    """
    pairs: list[tuple[int, int]] = []
    taken: set[int] = set()
    width = np.array([float(np.linalg.norm(np.ptp(rim, axis=0))) for rim in rims])
    middle = np.array([rim.mean(axis=0) for rim in rims]).reshape(-1, 3)
    box = np.array([(*rim.min(axis=0), *rim.max(axis=0)) for rim in rims]).reshape(-1, 6)
    near = cKDTree(middle).query_ball_point(middle, width) if len(rims) > 1 else []
    for i, others in enumerate(near):
        later = np.sort(np.array([k for k in others if k > i], dtype=np.int64))
        # Rims that are near each other all round have nearly the same box.
        room = np.minimum(largest, GAP_SHARE * np.minimum(width[i], width[later]))
        later = later[np.abs(box[later] - box[i]).max(axis=1, initial=0.0) <= room]
        for j in later.tolist():
            most = min(largest, GAP_SHARE * float(min(width[i], width[j])))
            if taken & {i, j} or not _goes_on(rims[i], onward[i], rims[j], most):
                continue
            if _goes_on(rims[j], onward[j], rims[i], most):
                pairs.append((i, j))
                taken |= {i, j}
    return pairs


def _goes_on(rim: FloatArray, onward: FloatArray, other: FloatArray, most: float) -> bool:
    found = cKDTree(other).query(rim)
    away, place = np.asarray(found[0]), np.asarray(found[1])
    if away.max() > most:
        return False
    way = (other[place] - rim) / np.maximum(away, 1e-12)[:, None]
    return float((way * onward).sum(axis=1).mean()) > TOWARDS


def strip(one: FloatArray, other: FloatArray) -> LongArray:
    """(n + m, 3) faces between two rims of n and m vertices that run as their patch has to: places in the first, or n
    and more for the second. The shorter of the two next edges across is taken each time."""
    n, m = len(one), len(other)
    back = np.arange(m)[::-1]
    first = int(np.linalg.norm(other[back] - one[0], axis=1).argmin())
    back = np.roll(back, -first)
    faces = []
    i = j = 0
    while i < n or j < m:
        a, b, after, beyond = i % n, back[j % m], (i + 1) % n, back[(j + 1) % m]
        along = np.inf if i == n else float(np.linalg.norm(one[after] - other[b]))
        across = np.inf if j == m else float(np.linalg.norm(one[a] - other[beyond]))
        if along <= across:
            faces.append((a, after, n + b))
            i += 1
        else:
            faces.append((a, n + beyond, n + b))
            j += 1
    return np.array(faces, dtype=np.int64)
