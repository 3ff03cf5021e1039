"""Bodies that share material though no face goes through another: where they meet, their faces lie in one plane."""

from __future__ import annotations

import numpy as np

from ventplanner.analysis.nesting import Reading
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.inside import windings
from ventplanner.geometry.rays import Target
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology
from ventplanner.mending.model import HAIR_MM, Flags, LongArray

MOST_POINTS = 60_000
"""Points tried over all pairs of bodies whose boxes overlap; each pair gets between 32 and 1024 of them."""

BESIDE_MM = 3.0 * HAIR_MM
"""How far beside corners and faces is asked."""

_ASKEW = np.array([0.05, -0.03, 0.02])
_TURNS = np.sqrt(np.array([2.0, 3.0, 5.0]))


def shared(mesh: Solid, found: Topology, reading: Reading, skins: IntArray) -> tuple[LongArray, FloatArray]:
    """Pairs of outward skins that both wind round a place that is material twice, and (k, 3) such a place of each.

    reading: of the same skins; one that lies whole in another is no such pair. skins: (k, 2) those that are known to
    cross; their pairs are not looked at again. Points spread evenly over what
    the two boxes have in common are tried (multiples of irrational numbers, Weyl 1916), and points close to the corners
    of both there: what is shared is missed only if it fills less than some hundredth of that box and no corner that is
    asked lies at it. A point counts if it is deeper than HAIR_MM under all faces, so that bodies that only touch are
    never taken.
    """
    pairs, boxes = _candidates(found, reading, skins)
    if not len(pairs):
        return pairs, np.empty((0, 3))
    each = int(np.clip(MOST_POINTS // len(pairs), 32, 1024))
    spread = np.modf(np.arange(1, each + 1)[:, None] * _TURNS)[0]
    points = (boxes[:, :1] + spread * (boxes[:, 1:] - boxes[:, :1])).reshape(-1, 3)
    corners, of_corner = _by_corners(mesh, found, pairs, boxes, each)
    points, of = np.vstack([points, corners]), np.concatenate([np.repeat(np.arange(len(pairs)), each), of_corner])
    around = windings(mesh, found, points)
    total = np.bincount(around.point, around.winding, len(points))
    own = pairs[of]
    in_both = np.ones(len(points), bool)
    for side in range(2):
        mine = (around.skin == own[around.point, side]) & (around.winding > 0)
        in_both &= np.bincount(around.point, mine, len(points)) > 0
    doubled = np.flatnonzero(in_both & (total > 1))
    return _deep(mesh, pairs, points, doubled, of[doubled])


def _by_corners(
    mesh: Solid, found: Topology, pairs: LongArray, boxes: FloatArray, most: int
) -> tuple[FloatArray, LongArray]:
    """Points a few hairs from vertices of both skins of each pair in their common box, in eight directions, and of
    which pair each is; at most so many of a pair, evenly among the vertices."""
    ways = BESIDE_MM * (np.stack(np.meshgrid((-1, 1), (-1, 1), (-1, 1)), axis=-1).reshape(-1, 3) + _ASKEW)
    points, of = [np.empty((0, 3))], [np.empty(0, np.int64)]
    corners: dict[int, FloatArray] = {}
    for k, (pair, (low, high)) in enumerate(zip(pairs.tolist(), boxes, strict=True)):
        for skin in pair:
            if skin not in corners:
                corners[skin] = mesh.vertices[np.unique(mesh.faces[found.faces_of_skin(skin)])]
            near = corners[skin]
            near = near[((near >= low - HAIR_MM) & (near <= high + HAIR_MM)).all(axis=1)]
            some = near[:: 1 + 16 * len(near) // most]
            points.append((some[:, None] + ways).reshape(-1, 3))
            of.append(np.full(len(points[-1]), k))
    return np.vstack(points), np.concatenate(of)


def opened(mesh: Solid, found: Topology, skins: IntArray) -> tuple[LongArray, FloatArray, FloatArray]:
    """Pairs of a cavity and a body that it reaches through though none of their faces cross: they lie in one plane, or
    no wall is left between; and (k, 3) such a place of each.

    A point that is some hairs outside of the cavity, beside its faces, and in no body, tells that. skins: (k, 2) those
    that are known to cross. Also the vertices of the mesh, those of such faces moved by these hairs, so that rounding
    leaves no film.
    """
    cavities = np.setdiff1d(np.flatnonzero(found.volume_of_skin < 0), skins)
    pairs, places, moved = [np.empty((0, 2), np.int64)], [np.empty((0, 3))], mesh.vertices
    for cavity in cavities.tolist():
        rows = found.faces_of_skin(cavity)
        some = rows[:: 1 + len(rows) // max(32, MOST_POINTS // (16 * len(cavities)))]
        free, met, points, _ = _free_beside(mesh, found, cavity, some)
        if not free.any() or not len(met):
            continue
        pairs.append(np.stack([np.full(len(met), cavity), met], axis=1))
        places.append(np.repeat(points[free][:1], len(met), axis=0))
        free, _, _, normal = _free_beside(mesh, found, cavity, rows)
        push = np.zeros_like(mesh.vertices)
        for k in range(3):
            np.add.at(push, mesh.faces[rows[free], k], normal[free])
        moved = moved + BESIDE_MM * push / np.maximum(np.linalg.norm(push, axis=1, keepdims=True), 1e-9)
    return np.vstack(pairs), np.vstack(places), moved


def _free_beside(
    mesh: Solid, found: Topology, cavity: int, rows: IntArray
) -> tuple[Flags, LongArray, FloatArray, FloatArray]:
    """Which faces of a cavity have no body beside them; the bodies that others have; where was asked; and the normals
    out of the cavity."""
    a, b, c = (mesh.vertices[mesh.faces[rows, k]] for k in range(3))
    # Normals of a cavity point into it.
    normal = np.cross(c - a, b - a)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), np.finfo(float).tiny)
    points = (a + b + c) / 3.0 + BESIDE_MM * normal
    around = windings(mesh, found, points)
    body = (around.winding > 0) & (found.volume_of_skin > 0)[around.skin]
    # A place that the cavity itself winds around lies in a fold of it.
    taken = around.point[body | (around.skin == cavity)]
    return np.bincount(taken, minlength=len(points)) == 0, np.unique(around.skin[body]), points, normal


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
