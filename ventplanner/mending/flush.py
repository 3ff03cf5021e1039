"""Bodies that share material though no face goes through another: where they meet, their faces lie in one plane."""

from __future__ import annotations

import numpy as np

from ventplanner.analysis.nesting import Reading
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.inside import windings
from ventplanner.geometry.rays import Target
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology
from ventplanner.mending.model import HAIR_MM, LongArray

MOST_POINTS = 60_000
"""Points tried over all pairs of bodies whose boxes overlap; each pair gets between 32 and 1024 of them."""

_TURNS = np.sqrt(np.array([2.0, 3.0, 5.0]))


def shared(mesh: Solid, found: Topology, reading: Reading, skins: IntArray) -> tuple[LongArray, FloatArray]:
    """Pairs of outward skins that both wind round a place that is material twice, and (k, 3) such a place of each.

    reading: of the same skins; one that lies whole in another is no such pair. skins: (k, 2) those that are known to
    cross; their pairs are not looked at again. Points spread evenly over what
    the two boxes have in common are tried (multiples of irrational numbers, Weyl 1916); one counts if it is deeper than
    HAIR_MM under all faces, so that bodies that only touch are never taken. What the bodies share has to fill some
    hundredth of that box, or it may be missed.
    """
    pairs, boxes = _candidates(found, reading, skins)
    if not len(pairs):
        return pairs, np.empty((0, 3))
    each = int(np.clip(MOST_POINTS // len(pairs), 32, 1024))
    spread = np.modf(np.arange(1, each + 1)[:, None] * _TURNS)[0]
    points = (boxes[:, :1] + spread * (boxes[:, 1:] - boxes[:, :1])).reshape(-1, 3)
    around = windings(mesh, found, points)
    total = np.bincount(around.point, around.winding, len(points))
    own = np.repeat(pairs, each, axis=0)
    in_both = np.ones(len(points), bool)
    for side in range(2):
        mine = (around.skin == own[around.point, side]) & (around.winding > 0)
        in_both &= np.bincount(around.point, mine, len(points)) > 0
    doubled = np.flatnonzero(in_both & (total > 1))
    return _deep(mesh, pairs, points, doubled, doubled // each)


def _candidates(found: Topology, reading: Reading, skins: IntArray) -> tuple[LongArray, FloatArray]:
    """Pairs of outward skins whose boxes overlap, (k, 2), and (k, 2, 3) what these have in common."""
    outward = np.flatnonzero(found.volume_of_skin > 0)
    low, high = found.bounds_of_skin[outward].transpose(1, 0, 2)
    pairs = [np.empty((0, 2), np.int64)]
    for k in range(len(outward) - 1):
        shared_mm = np.minimum(high[k], high[k + 1 :]) - np.maximum(low[k], low[k + 1 :])
        meets = k + 1 + np.flatnonzero((shared_mm > 2.0 * HAIR_MM).all(axis=1))
        pairs.append(np.stack([np.full(len(meets), k), meets], axis=1))
    index = np.vstack(pairs)
    known = np.vstack([skins, _nested(reading)]).astype(np.int64)
    index = index[~np.isin(outward[index] @ (found.n_skins, 1), np.sort(known, axis=1) @ (found.n_skins, 1))]
    one, other = index.T
    boxes = np.stack([np.maximum(low[one], low[other]), np.minimum(high[one], high[other])], axis=1)
    return outward[index], boxes


def _nested(reading: Reading) -> LongArray:
    """(k, 2) each skin that lies whole in others, with each of these."""
    inner = np.flatnonzero((reading.container >= 0) & ~reading.pokes)
    outer = reading.container[inner].astype(np.int64)
    pairs = [np.empty((0, 2), np.int64)]
    while len(inner):
        pairs.append(np.stack([inner, outer], axis=1))
        further = reading.container[outer] >= 0
        inner, outer = inner[further], reading.container[outer[further]].astype(np.int64)
    return np.vstack(pairs)


def _deep(
    mesh: Solid, pairs: LongArray, points: FloatArray, doubled: LongArray, of: LongArray
) -> tuple[LongArray, FloatArray]:
    """Of the points in both skins of a pair the first that is deep enough, for each pair that has one."""
    if not len(doubled):
        return pairs[:0], np.empty((0, 3))
    target = Target.of(mesh.vertices, mesh.faces)
    deep: dict[int, int] = {}
    for point, pair in zip(doubled.tolist(), of.tolist(), strict=True):
        if pair not in deep:
            near = NearTriangles.within(target, points[point], HAIR_MM)
            if near is None or near.distance(points[point][None])[0] > HAIR_MM:
                deep[pair] = point
    return pairs[list(deep)], points[list(deep.values())]
