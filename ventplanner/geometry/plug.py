"""The plug: what a drill takes out of a part, foretold by rays and without any cutting.

A bundle of rays along the tool's axis, arranged as a triangle lattice over its cross-section, crosses the skins; the
lengths of the runs of material on them give the volume. What the plug does to the connection of the skins is foretold
in `plug_euler`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.bore import Bore, clip
from ventplanner.geometry.cylinder import segments_for
from ventplanner.geometry.solid import FloatArray, IntArray

LongArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Reach:
    """The part as a bore meets it: vertices (n, 3) mm in the bore's own frame, and those faces (m, 3) that lines
    along its axis and inside it can cross.
    """

    bore: Bore
    vertices: FloatArray
    faces: IntArray


def reach(vertices: FloatArray, faces: IntArray, bore: Bore) -> Reach:
    """The part, or one closed piece of it, as this bore meets it; vertices (n, 3) float64 mm, faces (m, 3) int32."""
    code = np.zeros(len(vertices), dtype=np.uint8)
    limit = bore.outer_radius + 1e-6
    for axis in bore.axes[:2]:
        off = vertices @ axis - np.dot(bore.start, axis)
        for beyond in (off < -limit, off > limit):
            code = (code << np.uint8(1)) | beyond.view(np.uint8)
    near = faces[code[faces[:, 0]] & code[faces[:, 1]] & code[faces[:, 2]] == 0]
    used, index = np.unique(near, return_inverse=True)
    return Reach(bore, bore.place(vertices[used]), index.reshape(-1, 3).astype(np.int32))


def volume_taken(part: Reach, earlier: Sequence[Bore] = ()) -> tuple[float, float]:
    """Volume in mm3 that the bore takes out of the part after the `earlier` bores have been taken out of it, and how
    far that may be off: the change from half as many rings. Material is where the winding number is positive.
    """
    outline, radius = part.bore.widest
    # As many as make a good mesh of triangles of it, at least one for each six corners.
    rings = math.ceil(segments_for(radius) * max(0.5 * outline.far(radius) / radius, 0.5))
    coarse, fine = (_volume(part, earlier, n) for n in (rings, 2 * rings))
    return fine, abs(fine - coarse)


def winding_at(part: Reach, points: FloatArray) -> LongArray:
    """Winding number of the part at points (p, 3) mm, in the frame of the bore and inside it."""
    ray, along, change = crossings(points[:, :2], part)
    passed = along < points[ray, 2]
    return np.bincount(ray[passed], change[passed], minlength=len(points)).astype(np.int64)


@lru_cache(maxsize=16)
def _lattice(rings: int) -> tuple[FloatArray, LongArray]:
    """A disc as a triangle lattice: points (p, 2) by their share of the way to the rim and of the way round it, and
    triangles (t, 3).

    Ring i has 6 i points.
    """
    radius, angle = [0.0], [0.0]
    triangles = []
    inner = 0
    for i in range(1, rings + 1):
        outer = len(radius)
        k = np.arange(6 * i)
        radius.extend([i / rings] * (6 * i))
        angle.extend((k / (6 * i)).tolist())
        side, along = np.divmod(k, i)
        low = inner + (side * (i - 1) + along) % max(1, 6 * (i - 1))
        triangles.append(np.stack([outer + k, outer + (k + 1) % (6 * i), low], axis=1))
        if i > 1:
            j = np.arange(6 * (i - 1))
            side, along = np.divmod(j, i - 1)
            high = outer + (side * i + along + 1) % (6 * i)
            triangles.append(np.stack([inner + j, high, inner + (j + 1) % (6 * (i - 1))], axis=1))
        inner = outer
    return np.stack([radius, angle], axis=1), np.vstack(triangles)


def _volume(part: Reach, earlier: Sequence[Bore], rings: int) -> float:
    """Volume by a lattice of so many rings, whose rim is the polygon of the tool."""
    outline, radius = part.bore.widest
    polar, triangles = _lattice(rings)
    rim = outline.rim(radius, 6 * rings)
    at = polar[:, 1] * len(rim)
    side = np.minimum(at.astype(np.int64), len(rim) - 1)
    on_rim = rim[side] + (at - side)[:, None] * (rim[(side + 1) % len(rim)] - rim[side])
    # The rim itself is where the tool's wall will be; what counts there is just inside.
    points = polar[:, :1] * on_rim * (1.0 - 1e-9)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    area = 0.5 * np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    weight = np.bincount(triangles.ravel(), np.repeat(area / 3.0, 3), minlength=len(points))
    return float((weight * _lengths(points, part, earlier)).sum())


def crossings(points: FloatArray, part: Reach) -> tuple[LongArray, FloatArray, LongArray]:
    """Where lines along the axis through `points` ((p, 2)) cross the faces: line, distance along it from the bore's
    start, and the change of the winding number there.

    Each edge is tested from its lower to its higher vertex, so the two faces at it always agree on which side of it a
    line runs, and no line slips between them (Woop, Benthin and Wald 2013, "Watertight ray/triangle intersection").
    """
    placed, faces = part.vertices, part.faces
    face, ray = _candidates(points, placed, faces)
    at = points[ray]
    sides, weights = [], []
    for k in range(3):
        a, b = faces[face, (k + 1) % 3], faces[face, (k + 2) % 3]
        low, high = np.minimum(a, b), np.maximum(a, b)
        p, q = placed[low, :2] - at, placed[high, :2] - at
        cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
        # A ray through an edge or a corner counts as an infinitesimal step aside, the same one for all faces there.
        step = np.where(p[:, 1] != q[:, 1], p[:, 1] - q[:, 1], q[:, 0] - p[:, 0])
        sides.append((np.where(cross != 0.0, cross, step) > 0.0) == (a < b))
        weights.append(np.abs(cross))
    hit = np.flatnonzero((sides[0] == sides[1]) & (sides[1] == sides[2]))
    face, ray = face[hit], ray[hit]
    share = np.stack(weights, axis=1)[hit]
    total = share.sum(axis=1, keepdims=True)
    share = np.where(total > 0.0, share / np.where(total > 0.0, total, 1.0), 1.0 / 3.0)
    along = (share * placed[faces[face], 2]).sum(axis=1)
    return ray, along, np.where(sides[0][hit], -1, 1)


def _candidates(points: FloatArray, placed: FloatArray, faces: IntArray) -> tuple[LongArray, LongArray]:
    """Pairs (face, point) where the point lies in the bounds of the face: points sorted into square cells."""
    low, high = points.min(axis=0), points.max(axis=0)
    side = max(1, int(math.sqrt(len(points))))
    scale = side / np.maximum(high - low, 1e-12)
    cell = np.clip(((points - low) * scale).astype(np.int64), 0, side - 1)
    key = cell[:, 1] * side + cell[:, 0]
    order = np.argsort(key, kind="stable")
    first = np.searchsorted(key[order], np.arange(side * side + 1))
    corners = placed[faces][:, :, :2]
    bottom, top = corners.min(axis=1), corners.max(axis=1)
    keep = np.flatnonzero(((top >= low) & (bottom <= high)).all(axis=1))
    lowest = np.clip(((bottom[keep] - low) * scale).astype(np.int64), 0, side - 1)
    highest = np.clip(((top[keep] - low) * scale).astype(np.int64), 0, side - 1)
    face, row = _expand(highest[:, 1] - lowest[:, 1] + 1)
    row = (row + lowest[face, 1]) * side
    start, stop = first[row + lowest[face, 0]], first[row + highest[face, 0] + 1]
    piece, place = _expand(stop - start)
    face, ray = face[piece], order[start[piece] + place]
    inside = ((points[ray] >= bottom[keep[face]]) & (points[ray] <= top[keep[face]])).all(axis=1)
    return keep[face[inside]], ray[inside]


def _expand(counts: LongArray) -> tuple[LongArray, LongArray]:
    """For counts (2, 0, 3): which (0, 0, 2, 2, 2) and how-manieth (0, 1, 0, 1, 2)."""
    which = np.repeat(np.arange(len(counts)), counts)
    return which, np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)


def _lengths(points: FloatArray, part: Reach, earlier: Sequence[Bore]) -> FloatArray:
    """(p,) mm of material on each line through `points`, inside the bore and outside the earlier ones."""
    bore = part.bore
    ray, along, change = crossings(points, part)
    every = np.arange(len(points))
    # Blocked: before a line enters the tool, after it leaves it, and inside earlier bores.
    events = [(ray, along, change, np.zeros_like(change))]
    own = (every, np.zeros(len(every)), np.full(len(every), bore.length))
    within, begin, stop = own if bore.spread == 0.0 else _span(points, bore, bore)
    for distance, step in ((begin, -1), (stop, 1)):
        events.append((within, distance, np.zeros_like(within), np.full_like(within, step)))
    for other in earlier:
        hit, enter, leave = _span(points, bore, other)
        nothing, one = np.zeros_like(hit), np.ones_like(hit)
        events += [(hit, enter, nothing, one), (hit, leave, nothing, -one)]
    rays, at, winds, blocks = (np.concatenate(column) for column in zip(*events, strict=True))
    order = np.lexsort((at, rays))
    rays, at, winds, blocks = rays[order], at[order], winds[order], blocks[order]
    first = np.searchsorted(rays, every)
    winding, blocked = np.cumsum(winds), np.cumsum(blocks)
    # The sums run on from line to line; each line starts at winding 0 and blocked once.
    winding -= (winding[first] - winds[first])[rays]
    blocked += 1 - (blocked[first] - blocks[first])[rays]
    # Every line ends blocked, so what is filled has an event after it on the same line.
    filled = np.flatnonzero((winding > 0) & (blocked == 0))
    lengths = np.bincount(rays[filled], weights=at[filled + 1] - at[filled], minlength=len(points))
    return lengths.astype(np.float64)


def _span(points: FloatArray, bore: Bore, other: Bore) -> tuple[LongArray, FloatArray, FloatArray]:
    """Which lines of `bore` run inside another bore, from where to where."""
    start = np.column_stack([points, np.zeros(len(points))])
    way = np.broadcast_to([0.0, 0.0, 1.0], start.shape)
    enter, leave, _, _ = clip(start, way, *other.planes(bore))
    inside = np.flatnonzero(enter < leave)
    return inside, enter[inside], leave[inside]
