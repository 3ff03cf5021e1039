"""Rinsing and light: what of the inside a jet, a brush or light reaches in a straight line, and what it does not.

Points all over the inner skin look at the outer ends of the mouths of their cavity; a line counts if it is free up to
the mouth and passes through that. What is not reached and lies off the ways from mouth to mouth is a blind pocket:
there only diffusion cleans (`physics.soaking`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array, triu
from scipy.sparse.csgraph import dijkstra

from ventplanner.analysis.findings import Findings
from ventplanner.draining.bath import Bath
from ventplanner.draining.cells import Cells, Flags
from ventplanner.draining.model import Drained
from ventplanner.draining.mouths import OUT, Mouth
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.rays import square_to
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.soaking import rinses, soaking_time
from ventplanner.plan.model import Point

SAMPLES = 1500
"""Points on the inner skin of a cavity."""

AIMS = ((0.0, 0.0), (0.6, 0.0), (-0.3, 0.52), (-0.3, -0.52))
"""Points of a mouth that are looked at, in radii: its middle, and three round it."""

MOST_ALONG = 8
"""At most so many steps along a slit."""

BLIND_MM = 4.0
"""A pocket is told if it is deeper than this (own judgement)."""

CLEAN = 1e-4
"""Share of a cavity's volume that may be resin after rinsing (own judgement)."""

SOAKED = 0.01
"""Share of a pocket's resin that may be left after soaking (own judgement)."""

CORNER = 1.8
"""Blocks that meet at a corner have their middles so many sides apart, and a little."""

TOUCHING = 1_000_000
"""More than there are ways of three steps between two cells."""

GRAZE_MM = 0.02


@dataclass(frozen=True)
class Pocket:
    """A blind pocket. at_mm: its deepest place that nothing reaches, in the file's axes. depth_mm: from there to the
    nearest way between mouths. soak_s: until diffusion alone has left `SOAKED` of what is in it."""

    at_mm: Point
    depth_mm: float
    soak_s: float


@dataclass(frozen=True)
class Reached:
    """How the inside of a cavity can be cleaned and lit. share: of its skin that is reached in a straight line from
    outside; hidden_mm: the place furthest from what is reached, None if all is. pockets: the blind ones, deepest first.
    rinses: fillings until `CLEAN` of the volume is resin; 0 for a cavity without a way out. widest_mm: its widest way
    out."""

    cavity: str
    share: float
    hidden_mm: Point | None
    pockets: tuple[Pocket, ...]
    rinses: int
    widest_mm: float


def reached(findings: Findings, done: Drained) -> tuple[Reached, ...]:
    """For each cavity with an inner skin, in order; what is open all over, such as a bowl, needs nothing."""
    found = []
    after = done.steps[-1]
    for k, cavity in enumerate(findings.cavities):
        open_wide = cavity.kind != "sealed" and not any(m.cavity == k for m in done.bath.doors.mouths)
        if not len(cavity.faces) or open_wide:
            continue
        points = _points_on(findings, cavity.faces)
        mouths = [m for m in done.bath.doors.mouths if m.cavity == k and m.beyond == OUT]
        seen = np.zeros(len(points), dtype=bool)
        for mouth in mouths:
            seen |= _through(findings, points, mouth)
        depth, part = _depth(done.bath, k, points)
        hidden = None
        if not seen.all() and len(points):
            hidden = _place(findings, points[int(np.argmax(np.where(seen, -1.0, depth)))])
        pockets = _pockets(findings, points, np.where(seen, 0.0, depth), part) if mouths else ()
        own = done.bath.cells.cavity == k
        volume = float(done.bath.cells.volume[own].sum())
        kept = min((float(after.rest.liquid[own].sum()) + done.film * _share(findings, k)) / max(volume, 1e-9), 1.0)
        count = rinses(kept, CLEAN) if mouths and kept < 0.5 else 0
        widest = max((m.width for m in mouths), default=0.0)
        found.append(Reached(cavity.id, float(seen.mean()), hidden, pockets, count, widest))
    return tuple(found)


def _pockets(findings: Findings, points: FloatArray, blind: FloatArray, part: LongArray) -> tuple[Pocket, ...]:
    """The deepest point of each part of a cavity that nothing reaches. blind: (k,) mm depth of the points off the ways,
    0 where they are reached. part: (k,) number of the part."""
    found = []
    for number in np.unique(part[blind > BLIND_MM]).tolist():
        deepest = int(np.argmax(np.where(part == number, blind, -1.0)))
        depth = float(blind[deepest])
        found.append(Pocket(_place(findings, points[deepest]), depth, soaking_time(0.001 * depth, SOAKED)))
    return tuple(sorted(found, key=lambda pocket: (-pocket.depth_mm, pocket.at_mm)))


def _place(findings: Findings, point: FloatArray) -> Point:
    x, y, z = findings.scene.frame.to_file(point).tolist()
    return (x, y, z)


def _share(findings: Findings, cavity: int) -> float:
    """The share of a cavity in all inner skin, by faces' areas."""
    area = [float(_areas(findings, c.faces).sum()) for c in findings.cavities]
    return area[cavity] / max(sum(area), 1e-12)


def _areas(findings: Findings, faces: np.ndarray) -> FloatArray:
    a, b, c = (findings.scene.vertices[findings.scene.solid.faces[faces, i]] for i in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def _points_on(findings: Findings, faces: np.ndarray) -> FloatArray:
    """Points spread over faces by area, the same each time, a hair inside the hollow. Build axes."""
    area = _areas(findings, faces)
    sums = np.cumsum(area)
    # Evenly spaced along the summed area, in a fixed sequence within each face (R. Cranley & T. Patterson's shift).
    at = (np.arange(SAMPLES) + 0.5) / SAMPLES * sums[-1]
    face = faces[np.minimum(np.searchsorted(sums, at), len(faces) - 1)]
    u, v = (np.modf(np.arange(SAMPLES) * g)[0] for g in (0.7548776662466927, 0.5698402909980532))
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    a, b, c = (findings.scene.vertices[findings.scene.solid.faces[face, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    return np.asarray(a + u[:, None] * (b - a) + v[:, None] * (c - a) + GRAZE_MM * normal)


def _through(findings: Findings, points: FloatArray, mouth: Mouth) -> Flags:
    """(k,) bool: which points are seen through a mouth."""
    axis = mouth.outer - mouth.inner
    length = max(float(np.linalg.norm(axis)), 1e-9)
    axis = axis / length
    across = square_to(axis)
    seen, radius = np.zeros(len(points), dtype=bool), 0.5 * mouth.width
    half = 0.5 * (mouth.long - mouth.width) if mouth.is_slit else 0.0
    for x, y, s in _aims(half, radius):
        aim = mouth.outer + radius * (x * across[0] + y * across[1]) + s * mouth.along
        way = aim - points
        far = np.linalg.norm(way, axis=1)
        way = way / np.maximum(far, 1e-12)[:, None]
        rise = way @ axis
        with np.errstate(divide="ignore", invalid="ignore"):
            to_mouth = np.where(rise > 0.0, ((mouth.inner - points) @ axis) / rise, -1.0)
        cross = points + to_mouth[:, None] * way
        off = cross - mouth.inner
        off = off - np.clip(off @ mouth.along, -half, half)[:, None] * mouth.along
        within = (to_mouth > 0.0) & (np.linalg.norm(off, axis=1) < radius)
        # Through a planned hole there is still a wall in the mesh: free up to its mouth is free.
        reach = np.where(within, to_mouth - GRAZE_MM, 0.0) if mouth.name else far
        ask = np.flatnonzero((within if mouth.name else rise > 0.0) & ~seen)
        _, met = findings.scene.sight.first(points[ask], way[ask], reach[ask])
        seen[ask[met < 0]] = True
    return seen


def _aims(half: float, radius: float) -> Iterator[tuple[float, float, float]]:
    """Points of a mouth that are looked at: as of a round one, in radii, all along the middle line of a slit (mm)."""
    count = 1 + min(int(np.ceil(2.0 * half / radius)), MOST_ALONG) if half > 0.0 else 1
    for s in np.linspace(-half, half, count) if count > 1 else (0.0,):
        yield from ((x, y, float(s)) for x, y in AIMS)


def _depth(bath: Bath, cavity: int, points: FloatArray) -> tuple[FloatArray, LongArray]:
    """(k,) mm along the cells of a cavity from each point to the nearest way between two mouths, or to the only
    mouth; and (k,) which pocket it lies in."""
    cells, own = bath.cells, np.flatnonzero(bath.cells.cavity == cavity)
    doors = [bath.doors.cell[c] for m, c in zip(bath.doors.mouths, bath.doors.contacts, strict=True)
             if m.cavity == cavity and len(c)]  # fmt: skip
    if not len(own) or not doors:
        return np.zeros(len(points)), np.zeros(len(points), dtype=np.int64)
    graph, touch, number = _graph(cells, own)
    starts = [number[np.unique(door)] for door in doors]
    to_door, before = dijkstra(graph, directed=False, indices=[int(s[0]) for s in starts], return_predecessors=True)
    way = {int(i) for s in starts for i in s}
    for n in range(len(starts)):
        for m in range(n + 1, len(starts)):
            at = int(starts[m][0])
            while at >= 0 and np.isfinite(to_door[n, at]):
                way.add(at)
                at = int(before[n, at])
    depth = dijkstra(graph, directed=False, indices=sorted(way), min_only=True)
    depth = np.where(np.isfinite(depth), depth, 0.0)  # scraps of cells that nothing joins are none
    part = _parts(depth, touch)
    nearest = _nearest(points, cells.place[own])
    return depth[nearest], part[nearest]


def _parts(depth: FloatArray, touch: csr_array) -> LongArray:
    """(c,) the peak of depth that each cell belongs to. Two peaks are one if from the lower of them one comes to the
    other without getting `BLIND_MM` nearer to the ways (persistence: Edelsbrunner, Letscher & Zomorodian 2002, Discrete
    Comput. Geom. 28, 511)."""
    root, peak = np.full(len(depth), -1), np.arange(len(depth))  # of each piece, and the peak of each cell, or its like
    of_piece = np.arange(len(depth))

    def end(of: LongArray, at: int) -> int:
        while of[at] != at:
            of[at] = of[of[at]]
            at = int(of[at])
        return at

    for cell in np.argsort(-depth, kind="stable").tolist():
        root[cell] = cell
        for other in touch.indices[touch.indptr[cell] : touch.indptr[cell + 1]].tolist():
            if root[other] < 0:
                continue
            one, two = end(root, cell), end(root, other)
            if one == two:
                continue
            high, low = sorted((end(peak, int(of_piece[one])), end(peak, int(of_piece[two]))), key=lambda c: -depth[c])
            if depth[low] - depth[cell] < BLIND_MM:
                peak[low] = high
            root[one], of_piece[two] = two, high
    return np.array([end(peak, cell) for cell in range(len(depth))], dtype=np.int64)


def _graph(cells: Cells, own: LongArray) -> tuple[csr_array, csr_array, LongArray]:
    """Lengths between cells of a cavity that touch, or that three steps join across an edge or a corner: by faces alone
    a slanted way would seem up to 1.7 times as long. Which of them touch, and the number of each of all cells in it, -1
    for others."""
    number = np.full(cells.count, -1, dtype=np.int64)
    number[own] = np.arange(len(own))
    a, b = number[cells.ends].T
    inner = (a >= 0) & (b >= 0)
    a, b = a[inner], b[inner]
    shape = (len(own), len(own))
    touch = csr_array((np.ones(2 * len(a), dtype=np.int32), (np.append(a, b), np.append(b, a))), shape=shape)
    two = touch @ touch
    steps = triu(TOUCHING * touch + two + two @ touch, 1, format="coo")
    place = cells.place[own]
    length = np.sqrt(sum((place[steps.row, k] - place[steps.col, k]) ** 2 for k in range(3)))
    kept = (steps.data >= TOUCHING) | (length < CORNER * cells.side)
    lengths = csr_array((length[kept] + 1e-6, (steps.row[kept], steps.col[kept])), shape=shape)
    return lengths, touch, number


def _nearest(points: FloatArray, place: FloatArray) -> LongArray:
    from scipy.spatial import cKDTree

    return np.asarray(cKDTree(place).query(points)[1], dtype=np.int64)
