"""Edges with more than two faces and vertices where skins touch: each skin gets vertices of its own."""

from __future__ import annotations

import numpy as np

from ventplanner.geometry.side_kernels import label_fans
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.topology import angles_about
from ventplanner.geometry.topology_kernels import CROWDED
from ventplanner.mend_parameters import SPLIT
from ventplanner.mending.edges import Edges
from ventplanner.mending.faces import measured, pieces_of
from ventplanner.mending.model import Flags, LongArray, Mesh, Record, record

APART_MM = 0.0005
"""How far each of the parted vertices is moved: files join vertices at the same place again."""

_FLOAT32_STEPS = 4.0


def split(mesh: Mesh) -> tuple[Mesh, tuple[Record, ...]]:
    """Give skins that share edges or vertices their own ones, and move these half a micrometre into their bodies.

    At an edge of several faces two of the same piece belong together; of those that remain each pair bounds a wedge
    of material, as in `geometry.topology`. What finds no partner becomes an open edge.
    """
    edges = mesh.edges
    mate = _paired(mesh, edges) if edges.crowded else edges.mate
    corner, n_corners = _fans_of_corners(mate, mesh.faces)
    vertex = mesh.faces.reshape(-1)
    first = np.full(len(mesh.vertices), -1, np.int64)
    first[vertex[::-1]] = corner[::-1]
    own = np.empty(n_corners, np.int64)
    own[corner] = vertex
    extra = np.flatnonzero(first[own] != np.arange(n_corners))
    if not len(extra):
        return mesh, ()
    number = own.copy()
    number[extra] = len(mesh.vertices) + np.arange(len(extra))
    parted = Mesh(
        np.vstack([mesh.vertices, mesh.vertices[own[extra]]]),
        number[corner].reshape(-1, 3).astype(np.int32),
        mesh.body,
    )
    shared = np.unique(own[extra])
    moved = _moved_apart(parted, np.concatenate([shared, number[extra]]))
    count = len(np.unique(edges.key(np.flatnonzero(edges.state == CROWDED)))) if edges.crowded else 0
    what = f"vertices that skins shared parted ({count} edges had more than two faces)" if count else ""
    return moved, record(SPLIT, what or "vertices that skins shared parted", mesh.vertices[shared])


def _fans_of_corners(mate: IntArray, faces: IntArray) -> tuple[IntArray, int]:
    """The fan of each corner of each face, (3 m,): corners at one vertex are of one fan where their faces meet."""
    fan = np.full(len(mate), -1, np.int32)
    n = label_fans(mate, np.ascontiguousarray(faces).reshape(-1), fan, np.empty(len(mate), np.int32))
    return fan, int(n)


def _paired(mesh: Mesh, edges: Edges) -> IntArray:
    """The partner of each half-edge, now at edges of more than two faces as well, where there is one."""
    piece, _ = pieces_of(mesh, edges)
    half = np.flatnonzero((edges.mate < 0) & (edges.start != edges.end))
    key = edges.key(half)
    _, edge, count = np.unique(key, return_inverse=True, return_counts=True)
    half, edge = half[count[edge] > 2], edge[count[edge] > 2]
    mate = edges.mate.copy()
    # Two of the same piece.
    own = edge * (int(piece.max()) + 1) + piece[half // 3]
    order = np.argsort(own, kind="stable")
    _, first, size = np.unique(own[order], return_index=True, return_counts=True)
    two = first[size == 2]
    a, b = half[order[two]], half[order[two + 1]]
    fits = edges.start[a] == edges.end[b]
    mate[a[fits]], mate[b[fits]] = b[fits], a[fits]
    left = mate[half] < 0
    half, edge = half[left], edge[left]
    if len(half):
        half, edge = _without_walls(mesh, piece, half, edge)
        _pair_wedges(mesh, edges, half, edge, mate)
    return mate


def _without_walls(mesh: Mesh, piece: IntArray, half: LongArray, edge: LongArray) -> tuple[LongArray, LongArray]:
    """Without the face of the smallest piece at each edge of an odd number: a wall that a skin does not need."""
    sums, _ = measured(mesh, piece, int(piece.max()) + 1)
    area = sums[piece[half // 3], 1]
    order = np.lexsort((area, edge))
    half, edge = half[order], edge[order]
    first = np.concatenate([[True], edge[1:] != edge[:-1]])
    odd = np.bincount(edge)[edge] % 2 == 1
    kept = ~(first & odd)
    return half[kept], edge[kept]


def _pair_wedges(mesh: Mesh, edges: Edges, half: LongArray, edge: LongArray, mate: IntArray) -> None:
    """Pair what bounds a wedge of material; fills `mate`. Where starts and ends do not alternate, as far as they do."""
    start, end = edges.start[half], edges.end[half]
    tip = mesh.faces[half // 3, (half + 2) % 3]
    begins = start > end
    angle = angles_about(mesh.vertices, np.minimum(start, end), np.maximum(start, end), tip)
    order = np.lexsort((begins, angle, edge))
    half, edge, begins = half[order], edge[order], begins[order]
    last = np.concatenate([edge[1:] != edge[:-1], [True]])
    first = np.searchsorted(edge, edge)
    after = np.where(last, first, np.arange(len(edge)) + 1)
    pair = np.flatnonzero(begins & ~begins[after])
    mate[half[pair]], mate[half[after[pair]]] = half[after[pair]], half[pair]


def _moved_apart(mesh: Mesh, vertices: LongArray) -> Mesh:
    """Move vertices against their normal: into the body, or for the skin of a cavity into the wall of it."""
    chosen = np.zeros(len(mesh.vertices), bool)
    chosen[vertices] = True
    near = np.flatnonzero(chosen[mesh.faces].any(axis=1))
    corners = mesh.vertices[mesh.faces[near]]
    normal = np.zeros_like(mesh.vertices)
    for k in range(3):
        out, back = corners[:, (k + 1) % 3] - corners[:, k], corners[:, (k + 2) % 3] - corners[:, k]
        face = np.cross(out, back)
        # Weighted by the angle at the corner (Thuermer & Wuthrich 1998, J. Graphics Tools 3(1)).
        angle = np.arctan2(np.linalg.norm(face, axis=1), (out * back).sum(axis=1))
        unit = face / np.maximum(np.linalg.norm(face, axis=1, keepdims=True), np.finfo(float).tiny)
        np.add.at(normal, mesh.faces[near, k], unit * angle[:, None])
    step = _inward(mesh, near, chosen)[vertices, None] * normal[vertices]
    step /= np.maximum(np.linalg.norm(step, axis=1, keepdims=True), np.finfo(float).tiny)
    least = _FLOAT32_STEPS * np.spacing(np.abs(mesh.vertices[vertices]).astype(np.float32)).max(axis=1, keepdims=True)
    moved = mesh.vertices.copy()
    moved[vertices] += step * np.maximum(APART_MM, least)
    return Mesh(moved, mesh.faces, mesh.body)


def _inward(mesh: Mesh, near: LongArray, chosen: Flags) -> FloatArray:
    """For each vertex -1 or 1: times the normal it leads to the inside of the space that its own skin bounds."""
    piece, n = pieces_of(mesh, mesh.edges)
    sums, _ = measured(mesh, piece, n)
    sign = np.where(sums[:, 0] < 0, 1.0, -1.0)[piece[near]]
    of_vertex = np.full(len(chosen), -1.0)
    for k in range(3):
        of_vertex[mesh.faces[near, k]] = sign
    return of_vertex
