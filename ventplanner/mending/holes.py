"""Small holes: the loops of open edges, spanned by shape, refined, and made to go on as the skin around."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.topology import Topology
from ventplanner.mend_parameters import HOLES
from ventplanner.mending.bridging import facing, strip
from ventplanner.mending.edges import Edges
from ventplanner.mending.model import LongArray, Mesh, Record, record
from ventplanner.mending.smoothing import fair, refine
from ventplanner.mending.spanning import MOST_VERTICES, span, span_plane

WIDTH_SHARE = 1.0 / 3.0
"""Unless a width is given, a hole is small when it is no wider than this share of the size of its own skin."""


@dataclass(frozen=True, eq=False)
class _Loops:
    """Loops end to end: vertex (k,), the half-edge across the side to the next one (k,), where each begins (n + 1,)."""

    vertex: LongArray
    half: LongArray
    begin: LongArray


def fill_holes(mesh: Mesh, found: Topology, largest_mm: float | None) -> tuple[Mesh, tuple[Record, ...]]:
    """Close loops of open edges that are no wider than `largest_mm` (None: a third of the size of their skin).

    found: topology of the mesh. Holes of more than 250 edges are closed only where they are nearly plane. What stays
    open is in no record: it shows in the health of the result.
    """
    edges = mesh.edges
    if not len(edges.open):
        return mesh, ()
    loops = _loops(edges, len(mesh.vertices))
    strips, loops, gaps = _bridged(mesh, loops, largest_mm)
    loops = _small(mesh, found, loops, largest_mm)
    local, spanned = _spanned(mesh, edges, loops)
    local = np.vstack([strips, local])
    if not len(local):
        return mesh, ()
    patched = _patched(mesh, local)
    places = np.array([mesh.vertices[loops.vertex[loops.begin[n] : loops.begin[n + 1]]].mean(axis=0) for n in spanned])
    told = record(HOLES, "gaps all round bridged", gaps)
    return patched, told + record(HOLES, "holes filled", places.reshape(-1, 3))


def _bridged(mesh: Mesh, loops: _Loops, largest_mm: float | None) -> tuple[LongArray, _Loops, FloatArray]:
    """Faces (k, 3) between loops that bound one gap, the loops that are left, and a place of each gap."""
    ends = list(pairwise(loops.begin.tolist()))
    vertex = [loops.vertex[a:b] for a, b in ends]
    rims, onward = [mesh.vertices[v] for v in vertex], [_onward(mesh, loops.half[a:b]) for a, b in ends]
    pairs = facing(rims, onward, np.inf if largest_mm is None else largest_mm)
    if not pairs:
        return np.empty((0, 3), np.int64), loops, np.empty((0, 3))
    faces = [np.concatenate([vertex[i], vertex[j]])[strip(rims[i], rims[j])] for i, j in pairs]
    kept = np.ones(len(ends), bool)
    kept[np.array(pairs)] = False
    count = np.diff(loops.begin)
    rows = np.repeat(kept, count)
    left = _Loops(loops.vertex[rows], loops.half[rows], np.concatenate([[0], np.cumsum(count[kept])]))
    return np.vstack(faces), left, np.array([rims[i][0] for i, _ in pairs])


def _onward(mesh: Mesh, half: LongArray) -> FloatArray:
    """(k, 3) unit: along the face of each open edge, across the edge and away from the face."""
    corners = np.take_along_axis(mesh.faces[half // 3], (half[:, None] + np.arange(3)) % 3, axis=1)
    a, b, tip = (mesh.vertices[corners[:, k]] for k in range(3))
    edge = (b - a) / np.maximum(np.linalg.norm(b - a, axis=1, keepdims=True), 1e-12)
    way = a - tip
    way -= (way * edge).sum(axis=1, keepdims=True) * edge
    return np.asarray(way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-12))


def _loops(edges: Edges, n_vertices: int) -> _Loops:
    """Simple loops only; they run against the open edges, as a patch has to."""
    lone = edges.open
    start, end = edges.start[lone], edges.end[lone]
    into, out = np.bincount(end, minlength=n_vertices), np.bincount(start, minlength=n_vertices)
    follow = np.full(n_vertices, -1, np.int64)
    follow[end] = np.arange(len(lone))
    simple = (into == 1) & (out == 1)
    seen = np.zeros(len(lone), bool)
    after, good = follow[start].tolist(), (simple[start] & simple[end]).tolist()
    order: list[int] = []
    begin = [0]
    for first in range(len(lone)):
        if seen[first]:
            continue
        at, run, whole = first, [], True
        while at >= 0 and not seen[at]:
            seen[at] = True
            run.append(at)
            whole &= good[at]
            at = after[at]
        if whole and at == first and len(run) >= 3:
            order += run
            begin.append(len(order))
    chosen = np.array(order, np.int64)
    return _Loops(end[chosen].astype(np.int64), lone[chosen], np.array(begin))


def _small(mesh: Mesh, found: Topology, loops: _Loops, largest: float | None) -> _Loops:
    count = np.diff(loops.begin)
    if not len(count):
        return loops
    points = mesh.vertices[loops.vertex]
    low = np.minimum.reduceat(points, loops.begin[:-1])
    high = np.maximum.reduceat(points, loops.begin[:-1])
    width = np.linalg.norm(high - low, axis=1)
    if largest is None:
        size = np.linalg.norm(np.diff(found.bounds_of_skin, axis=1)[:, 0], axis=1)
        limit = WIDTH_SHARE * size[found.skin_of_face[loops.half[loops.begin[:-1]] // 3]]
    else:
        limit = np.full(len(width), largest)
    kept = width <= limit
    rows = np.repeat(kept, count)
    return _Loops(loops.vertex[rows], loops.half[rows], np.concatenate([[0], np.cumsum(count[kept])]))


def _spanned(mesh: Mesh, edges: Edges, loops: _Loops) -> tuple[LongArray, list[int]]:
    """Faces (k, 3) of the mesh's vertices that span the loops, and which loops could be."""
    count = np.diff(loops.begin)
    known = _rim_edges(mesh, edges, loops.vertex)
    faces: list[LongArray] = []
    done: list[int] = []
    for n in np.unique(count).tolist():
        of = np.flatnonzero(count == n)
        place = loops.begin[of][:, None] + np.arange(n)
        vertex = loops.vertex[place]
        if n > MOST_VERTICES:
            for loop, row in zip(of.tolist(), vertex, strict=True):
                flat = span_plane(mesh.vertices[row])
                if flat is not None:
                    faces.append(row[flat].astype(np.int64))
                    done.append(loop)
            continue
        low, high = vertex[:, :, None], vertex[:, None, :]
        taken = np.isin(np.minimum(low, high) << 32 | np.maximum(low, high), known)
        rows = span(mesh.vertices[vertex], _normals(mesh, loops.half[place] // 3), taken)
        faces.append(np.take_along_axis(vertex[:, None, :], rows, axis=2).reshape(-1, 3))
        done += of.tolist()
    return (np.vstack(faces) if faces else np.empty((0, 3), np.int64)), sorted(done)


def _rim_edges(mesh: Mesh, edges: Edges, rim: LongArray) -> LongArray:
    """Keys of all edges of the mesh between two vertices of rims."""
    on_rim = np.zeros(len(mesh.vertices), bool)
    on_rim[rim] = True
    return np.unique(edges.key(np.flatnonzero(on_rim[edges.start] & on_rim[edges.end])))


def _normals(mesh: Mesh, faces: LongArray) -> FloatArray:
    corners = mesh.vertices[mesh.faces[faces]]
    normal = np.cross(corners[..., 1, :] - corners[..., 0, :], corners[..., 2, :] - corners[..., 0, :])
    unit: FloatArray = normal / np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), np.finfo(float).tiny)
    return unit


def _patched(mesh: Mesh, patch: LongArray) -> Mesh:
    """The mesh with its patches refined and faired."""
    rim = np.unique(patch)
    on_rim = np.zeros(len(mesh.vertices), bool)
    on_rim[rim] = True
    around = mesh.faces[on_rim[mesh.faces].any(axis=1)]
    used = np.unique(np.concatenate([rim, around.ravel()]))
    local = np.full(len(mesh.vertices), -1, np.int64)
    local[used] = np.arange(len(used))
    ring, flat = local[around], local[patch].astype(np.int32)
    start, end = ring.reshape(-1), np.roll(ring, -1, axis=1).reshape(-1)
    points = mesh.vertices[used]
    length = np.linalg.norm(points[start] - points[end], axis=1)
    ends = np.concatenate([start, end])
    size = np.bincount(ends, np.tile(length, 2), len(used)) / np.maximum(np.bincount(ends, minlength=len(used)), 1)
    fine, faces = refine(points, flat, size)
    if len(fine) > len(used):
        free = np.arange(len(fine)) >= len(used)
        rims = np.zeros(len(fine), bool)
        rims[local[rim]] = True
        plain = fine.copy()
        fine[free] = fair(fine, np.vstack([faces, ring]).astype(np.int32), free, rims)
        fine = _sound(plain, fine, faces, ring)
    number = np.concatenate([used, len(mesh.vertices) + np.arange(len(fine) - len(used))])
    owner = np.zeros(len(mesh.vertices), np.int32)
    owner[mesh.faces.ravel()] = np.repeat(mesh.body, 3)
    # A patch is of the body of its rim; every refined face hangs together with one that has a rim vertex.
    body = _spread(owner, number[faces], len(mesh.vertices), mesh.body)
    return mesh.adding(fine[len(used) :], number[faces], body)


def _sound(plain: FloatArray, faired: FloatArray, faces: IntArray, ring: LongArray) -> FloatArray:
    """Faired positions, but for patches that would go through themselves or the faces around: these stay plain.

    plain, faired: (n, 3); faces: of all patches; ring: of the skin around them.
    """
    # Compiled when it is first needed.
    from ventplanner.geometry.crossings import crossings

    pairs = crossings(faired, np.vstack([faces, ring]).astype(np.int32))
    hit = np.unique(pairs[pairs < len(faces)])
    if not len(hit):
        return faired
    start, end = faces.reshape(-1), np.roll(faces, -1, axis=1).reshape(-1)
    graph = coo_array((np.ones(len(start), np.int8), (start, end)), shape=(len(plain), len(plain)))
    _, patch = connected_components(graph, directed=False)
    back: FloatArray = np.where(np.isin(patch, patch[faces[hit, 0]])[:, None], plain, faired)
    return back


def _spread(owner: IntArray, faces: LongArray, n_old: int, bodies: IntArray) -> IntArray:
    """The body of each face of a patch, from the old vertices that it has, or else from its neighbours."""
    if not bodies.any():
        return np.zeros(len(faces), np.int32)
    of_vertex = np.full(int(faces.max()) + 1, -1, np.int32)
    of_vertex[: min(n_old, len(of_vertex))] = owner[: len(of_vertex)]
    of_face: IntArray = of_vertex[faces].max(axis=1)
    while (of_face < 0).any():
        np.maximum.at(of_vertex, faces.ravel(), np.repeat(of_face, 3))
        of_face = of_vertex[faces].max(axis=1)
    return of_face
