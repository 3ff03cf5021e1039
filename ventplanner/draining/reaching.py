"""Rinsing and light: what of the inside a jet, a brush or light reaches in a straight line, and what it does not.

Points all over the inner skin look at the outer ends of the mouths of their cavity; a line counts if it is free up to
the mouth and passes through that. What is not reached and lies off the ways from mouth to mouth is a blind pocket:
there only diffusion cleans (`physics.soaking`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
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

GRAZE_MM = 0.02


@dataclass(frozen=True)
class Reached:
    """How the inside of a cavity can be cleaned and lit. share: of its skin that is reached in a straight line from
    outside; hidden_mm: the place furthest from what is reached, None if all is. pocket_mm: depth of the deepest blind
    pocket, 0 for none; soak_s: until diffusion alone has left `SOAKED` of what is in it. rinses: fillings until `CLEAN`
    of the volume is resin; 0 for a cavity without a way out. widest_mm: its widest way out."""

    cavity: str
    share: float
    hidden_mm: Point | None
    pocket_mm: float
    soak_s: float
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
        depth, hidden = _depth(done.bath, k, points), None
        blind = np.where(seen, 0.0, depth)
        if not seen.all() and len(points):
            at = findings.scene.frame.to_file(points[int(np.argmax(np.where(seen, -1.0, depth)))])
            hidden = (float(at[0]), float(at[1]), float(at[2]))
        pocket = float(blind.max(initial=0.0))
        pocket = pocket if pocket > BLIND_MM and mouths else 0.0
        own = done.bath.cells.cavity == k
        volume = float(done.bath.cells.volume[own].sum())
        kept = min((float(after.rest.liquid[own].sum()) + done.film * _share(findings, k)) / max(volume, 1e-9), 1.0)
        count = rinses(kept, CLEAN) if mouths and kept < 0.5 else 0
        soak = soaking_time(0.001 * pocket, SOAKED) if pocket else 0.0
        widest = max((m.width for m in mouths), default=0.0)
        found.append(Reached(cavity.id, float(seen.mean()), hidden, pocket, soak, count, widest))
    return tuple(found)


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


def _depth(bath: Bath, cavity: int, points: FloatArray) -> FloatArray:
    """(k,) mm along the cells of a cavity from each point to the nearest way between two mouths, or to the only
    mouth."""
    cells, own = bath.cells, np.flatnonzero(bath.cells.cavity == cavity)
    doors = [bath.doors.cell[c] for m, c in zip(bath.doors.mouths, bath.doors.contacts, strict=True)
             if m.cavity == cavity and len(c)]  # fmt: skip
    if not len(own) or not doors:
        return np.zeros(len(points))
    graph, number = _graph(cells, own)
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
    place = cells.place[own]
    # Scraps of cells that nothing joins are none.
    return np.asarray(np.where(np.isfinite(depth), depth, 0.0)[_nearest(points, place)])


def _graph(cells: Cells, own: LongArray) -> tuple[csr_array, LongArray]:
    number = np.full(cells.count, -1, dtype=np.int64)
    number[own] = np.arange(len(own))
    a, b = number[cells.ends].T
    inner = (a >= 0) & (b >= 0)
    a, b = a[inner], b[inner]
    length = np.linalg.norm(cells.place[own[a]] - cells.place[own[b]], axis=1) + 1e-6
    return csr_array((length, (a, b)), shape=(len(own), len(own))), number


def _nearest(points: FloatArray, place: FloatArray) -> LongArray:
    from scipy.spatial import cKDTree

    return np.asarray(cKDTree(place).query(points)[1], dtype=np.int64)
