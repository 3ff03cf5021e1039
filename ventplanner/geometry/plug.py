"""The plug: what a round tool takes out of a part, foretold by rays and without any cutting.

A bundle of rays along the tool's axis, arranged as a triangle lattice over its cross-section, crosses the skins. On
each ray the plug is a few runs of material. Their lengths give the volume. How they overlap from ray to ray gives the
Euler number: the plug is fibred over the lattice, so it is the alternating sum of the Euler numbers of the runs over
its points, edges and triangles, where a run counts 1, and one less for each end that is open.

Taking a plug out of a part changes the Euler number of the part's skin by -2 times that of the plug, where the plug
holds its skins but not the wall of the tool: the skin of a solid has twice the Euler number of the solid, and Euler
numbers of disjoint parts add up (van den Dries 1998, "Tame topology and o-minimal structures", chapter 4).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.cylinder import PHASE, across, corner_radius, segments_for
from ventplanner.geometry.solid import FloatArray, IntArray

LongArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_FINEST = 96
_WHOLE = 1.0 - 1e-12


@dataclass(frozen=True)
class Bore:
    """A round tool: from `start` to `end` (mm), `radius` as for `cylinder`."""

    start: tuple[float, float, float]
    end: tuple[float, float, float]
    radius: float

    @property
    def length(self) -> float:
        """Length in mm."""
        return math.dist(self.start, self.end)

    @property
    def outer_radius(self) -> float:
        """Radius through the corners of the tool's polygon."""
        return corner_radius(self.radius, segments_for(self.radius))

    @property
    def inner_radius(self) -> float:
        """Radius of the circle inside the tool's polygon."""
        return self.outer_radius * math.cos(math.pi / segments_for(self.radius))

    def place(self, points: FloatArray) -> FloatArray:
        """Points (…, 3) mm in the tool's own frame: two coordinates across the axis, and how far along from start."""
        axis = np.subtract(self.end, self.start) / self.length
        frame: FloatArray = (points - np.asarray(self.start)) @ np.array([*across(axis), axis]).T
        return frame


@dataclass(frozen=True)
class Plug:
    """Volume in mm3, how far it may be off (the change from half as many rings), and the Euler number."""

    volume_mm3: float
    error_mm3: float
    euler: int


def plug(vertices: FloatArray, faces: IntArray, bore: Bore, earlier: Sequence[Bore] = ()) -> Plug:
    """What `bore` takes out of a closed mesh after the `earlier` bores have been taken out.

    vertices: (n, 3) float64 mm. faces: (m, 3) int32, closed; material is where the winding number is positive. The
    rings of the lattice are doubled until two in a row agree about the Euler number (or 96 are reached).
    """
    rings = segments_for(bore.radius) // 2
    placed = bore.place(vertices)
    faces = _within_reach(placed, faces, bore.outer_radius)
    used, index = np.unique(faces, return_inverse=True)
    placed, faces = placed[used], index.reshape(-1, 3).astype(np.int32)
    coarse = _measure(placed, faces, bore, earlier, rings)
    while True:
        rings *= 2
        fine = _measure(placed, faces, bore, earlier, rings)
        if fine[1] == coarse[1] or rings >= _FINEST:
            return Plug(fine[0], abs(fine[0] - coarse[0]), fine[1])
        coarse = fine


def _within_reach(placed: FloatArray, faces: IntArray, reach: float) -> IntArray:
    """The faces that rays along the axis, at most `reach` from it, can cross."""
    x, y = placed[:, 0], placed[:, 1]
    code = np.zeros(len(placed), dtype=np.uint8)
    for bit, beyond in enumerate((x < -reach, x > reach, y < -reach, y > reach)):
        code |= beyond.astype(np.uint8) << np.uint8(bit)
    near: IntArray = faces[code[faces[:, 0]] & code[faces[:, 1]] & code[faces[:, 2]] == 0]
    return near


@lru_cache(maxsize=16)
def _lattice(rings: int) -> tuple[FloatArray, LongArray, LongArray, BoolArray]:
    """A disc of radius 1 as a triangle lattice: polar points (p, 2) of radius and angle, triangles (t, 3), edges
    (e, 2), and (p,) bool of the points on the rim. Ring i has 6 i points.
    """
    radius, angle = [0.0], [0.0]
    triangles = []
    inner = 0
    for i in range(1, rings + 1):
        outer = len(radius)
        k = np.arange(6 * i)
        radius.extend([i / rings] * (6 * i))
        angle.extend((2.0 * math.pi * k / (6 * i)).tolist())
        side, along = np.divmod(k, i)
        low = inner + (side * (i - 1) + along) % max(1, 6 * (i - 1))
        triangles.append(np.stack([outer + k, outer + (k + 1) % (6 * i), low], axis=1))
        if i > 1:
            j = np.arange(6 * (i - 1))
            side, along = np.divmod(j, i - 1)
            high = outer + (side * i + along + 1) % (6 * i)
            triangles.append(np.stack([inner + j, high, inner + (j + 1) % (6 * (i - 1))], axis=1))
        inner = outer
    faces = np.vstack(triangles)
    edges = np.unique(np.sort(np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1), axis=0)
    polar = np.stack([radius, angle], axis=1)
    return polar, faces, edges, polar[:, 0] > _WHOLE


def _measure(placed: FloatArray, faces: IntArray, bore: Bore, earlier: Sequence[Bore], rings: int) -> tuple[float, int]:
    """Volume and Euler number with this many rings. The rim of the lattice is the polygon of the tool."""
    polar, triangles, edges, rim = _lattice(rings)
    step = 2.0 * math.pi / segments_for(bore.radius)
    turn = np.remainder(polar[:, 1], step) - 0.5 * step
    reach = polar[:, 0] * bore.inner_radius / np.cos(turn)
    angle = polar[:, 1] + PHASE * step
    points = np.stack([reach * np.cos(angle), reach * np.sin(angle)], axis=1)
    # The rim itself is where the tool's wall will be; what counts there is just inside.
    points[rim] *= 1.0 - 1e-9
    runs = _runs(points, *_crossings(points, placed, faces), bore, earlier)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    area = 0.5 * np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    weight = np.bincount(triangles.ravel(), np.repeat(area / 3.0, 3), minlength=len(points))
    volume = float((weight[runs.ray] * (runs.stop - runs.start)).sum())
    inside = ~rim[edges].all(axis=1)
    over_edges = runs.shared(edges[inside])
    euler = runs.only(~rim).euler() - over_edges.euler() + runs.shared(triangles).euler()
    return volume, euler


def _crossings(points: FloatArray, placed: FloatArray, faces: IntArray) -> tuple[LongArray, FloatArray, LongArray]:
    """Where the rays through `points` ((p, 2)) cross the faces: ray, distance along, and change of winding number.

    Each edge is tested from its lower to its higher vertex, so the two faces at it always agree on which side of it a
    ray runs, and no ray slips between them (Woop, Benthin and Wald 2013, "Watertight ray/triangle intersection").
    """
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
    scale = side / (high - low)
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


@dataclass(frozen=True, eq=False)
class _Runs:
    """Runs of material along rays, sorted by ray: (k,) each; `open_start`, `open_stop`: cut off by the tool's end."""

    count: int
    ray: LongArray
    start: FloatArray
    stop: FloatArray
    open_start: BoolArray
    open_stop: BoolArray

    def euler(self) -> int:
        """Sum over the runs: 1, less 1 for each open end."""
        return len(self.ray) - int(np.count_nonzero(self.open_start)) - int(np.count_nonzero(self.open_stop))

    def only(self, chosen: BoolArray) -> _Runs:
        """The runs on the chosen rays ((count,) bool)."""
        return self._take(np.flatnonzero(chosen[self.ray]), self.ray)

    def _take(self, rows: LongArray, ray: LongArray) -> _Runs:
        ends = self.start[rows], self.stop[rows]
        return _Runs(self.count, ray[rows], *ends, self.open_start[rows], self.open_stop[rows])

    def shared(self, cells: LongArray) -> _Runs:
        """What the runs on the rays of each cell ((c, 2 or 3)) have in common; a cell is a ray of the result."""
        first = np.searchsorted(self.ray, np.arange(self.count + 1))
        which, place = _expand(first[cells[:, 0] + 1] - first[cells[:, 0]])
        at = first[cells[which, 0]] + place
        found = _Runs(len(cells), which, self.start[at], self.stop[at], self.open_start[at], self.open_stop[at])
        for k in range(1, cells.shape[1]):
            ray = cells[found.ray, k]
            row, place = _expand(first[ray + 1] - first[ray])
            other = first[ray[row]] + place
            start, stop = np.maximum(found.start[row], self.start[other]), np.minimum(found.stop[row], self.stop[other])
            merged = _Runs(
                len(cells),
                found.ray[row],
                start,
                stop,
                found.open_start[row] & self.open_start[other],
                found.open_stop[row] & self.open_stop[other],
            )
            found = merged._take(np.flatnonzero(start < stop), merged.ray)
        return found


def _runs(
    points: FloatArray, ray: LongArray, along: FloatArray, change: LongArray, bore: Bore, earlier: Sequence[Bore]
) -> _Runs:
    """Where each ray has material inside the bore and outside the earlier ones."""
    every = np.arange(len(points))
    # Blocked: before the tool's start, after its end, and inside earlier bores.
    events = [(ray, along, change, np.zeros_like(change))]
    for distance, step in ((0.0, -1), (bore.length, 1)):
        events.append((every, np.full(len(every), distance), np.zeros_like(every), np.full_like(every, step)))
    for other in earlier:
        inside, enter, leave = _span(points, bore, other)
        nothing, one = np.zeros_like(inside), np.ones_like(inside)
        events += [(inside, enter, nothing, one), (inside, leave, nothing, -one)]
    rays, at, winds, blocks = (np.concatenate(column) for column in zip(*events, strict=True))
    order = np.lexsort((at, rays))
    rays, at = rays[order], at[order]
    first = np.searchsorted(rays, np.arange(len(points)))
    winding, blocked = np.cumsum(winds[order]), np.cumsum(blocks[order])
    # The sums run on from ray to ray; each ray starts at winding 0 and blocked once.
    winding -= (winding[first] - winds[order][first])[rays]
    blocked += 1 - (blocked[first] - blocks[order][first])[rays]
    filled = (winding > 0) & (blocked == 0)
    before = np.concatenate([[False], filled[:-1]])
    before[first] = False
    starts, stops = np.flatnonzero(filled & ~before), np.flatnonzero(~filled & before)
    by_tool = order >= len(ray)
    at_end = by_tool & (order < len(ray) + 2 * len(points))
    return _Runs(len(points), rays[starts], at[starts], at[stops], at_end[starts], at_end[stops])


def _span(points: FloatArray, bore: Bore, other: Bore) -> tuple[LongArray, FloatArray, FloatArray]:
    """Which rays of `bore` run inside another bore, from where to where."""
    axis = np.subtract(bore.end, bore.start) / bore.length
    u, v = across(axis)
    origin = np.asarray(bore.start) + points[:, :1] * u + points[:, 1:] * v
    p = other.place(origin)
    d = other.place(np.asarray(other.start) + axis)
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = d[0] ** 2 + d[1] ** 2, p[:, 0] * d[0] + p[:, 1] * d[1]
        c = p[:, 0] ** 2 + p[:, 1] ** 2 - other.radius**2
        root = np.sqrt(np.maximum(0.0, b * b - a * c))
        misses = (b * b < a * c) | ((a < 1e-18) & (c > 0.0))
        enter = np.where(a < 1e-18, -np.inf, (-b - root) / a)
        leave = np.where(a < 1e-18, np.inf, (-b + root) / a)
        ends = np.sort(np.stack([-p[:, 2] / d[2], (other.length - p[:, 2]) / d[2]]), axis=0)
    if abs(d[2]) < 1e-9:
        outside = (p[:, 2] < 0.0) | (p[:, 2] > other.length)
        misses |= outside
    else:
        enter, leave = np.maximum(enter, ends[0]), np.minimum(leave, ends[1])
    inside = np.flatnonzero(~misses & (enter < leave))
    return inside, enter[inside], leave[inside]
