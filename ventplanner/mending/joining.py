"""Joining what belongs together at open edges: vertices that nearly meet, and vertices on the edge of another face."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.mend_parameters import JUNCTIONS, WELD
from ventplanner.mending.edges import Edges
from ventplanner.mending.model import Flags, LongArray, Mesh, Record, record

SHARE_OF_EDGE = 0.4
"""Vertices are joined only below this share of the shortest open edge at them, so that no edge collapses."""

SHARE_OF_HEIGHT = 0.25
"""A vertex lies on an edge only if it is nearer to it than this share of the height of the face over it."""

_ROUNDS = 12


def weld_near(mesh: Mesh, tolerance: float) -> tuple[Mesh, tuple[Record, ...]]:
    """Join vertices of open edges that lie within a tolerance (mm); the first of them stays where it is.

    Vertices that are on no open edge are never touched, so detail that is finer than the tolerance stays.
    """
    edges = mesh.edges
    lone = edges.open
    if not len(lone):
        return mesh, ()
    ends = np.concatenate([edges.start[lone], edges.end[lone]])
    on_rim = np.zeros(len(mesh.vertices), bool)
    on_rim[ends] = True
    rim = np.flatnonzero(on_rim)
    place = (np.cumsum(on_rim) - 1)[ends]
    points = mesh.vertices[rim]
    length = np.linalg.norm(mesh.vertices[edges.start[lone]] - mesh.vertices[edges.end[lone]], axis=1)
    reach = np.full(len(rim), np.inf)
    real = np.tile(length > 0, 2)
    np.minimum.at(reach, place[real], np.tile(length, 2)[real])
    reach = np.minimum(tolerance, SHARE_OF_EDGE * reach)
    pairs = cKDTree(points, balanced_tree=False, compact_nodes=False).query_pairs(tolerance, output_type="ndarray")
    away = np.linalg.norm(points[pairs[:, 0]] - points[pairs[:, 1]], axis=1)
    pairs = pairs[away <= reach[pairs].min(axis=1)]
    if not len(pairs):
        return mesh, ()
    first = _first_of_group(len(rim), pairs)
    moved = np.flatnonzero(first != np.arange(len(rim)))
    number = np.arange(len(mesh.vertices), dtype=np.int32)
    number[rim[moved]] = rim[first[moved]]
    welded = Mesh(mesh.vertices, number[mesh.faces], mesh.body)
    return welded, record(WELD, "vertices joined to one nearby", points[moved])


def _first_of_group(count: int, pairs: IntArray) -> LongArray:
    graph = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    _, group = connected_components(graph, directed=False)
    _, first = np.unique(group, return_index=True)
    chosen: LongArray = first[group]
    return chosen


def divide_at_junctions(mesh: Mesh, tolerance: float) -> tuple[Mesh, tuple[Record, ...]]:
    """Divide faces at vertices of other open edges that lie on their open edges, within a tolerance (mm).

    Each face is cut into a fan from the corner across the edge; a face with several such edges, or pieces of it that
    have one, are cut in further rounds.
    """
    places = []
    for _ in range(_ROUNDS):
        edges = mesh.edges
        edge, vertex = _on_open_edges(mesh, edges, tolerance)
        if not len(edge):
            break
        # Of each face one edge at a time.
        face = edge // 3
        chosen = edge[np.searchsorted(face, face)]
        edge, vertex = edge[edge == chosen], vertex[edge == chosen]
        places.append(mesh.vertices[vertex])
        mesh = _fans(mesh, edge, vertex)
    found = np.vstack(places) if places else np.empty((0, 3))
    return mesh, record(JUNCTIONS, "vertices put into the edge of a face that they lay on", found)


def _on_open_edges(mesh: Mesh, edges: Edges, tolerance: float) -> tuple[LongArray, LongArray]:
    """Half-edges and the vertices on them, in order along each; (k,) each, sorted by half-edge.

    Only where a piece of the edge between two neighbours among them is an open edge of another face.
    """
    lone = edges.open
    if not len(lone):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    rim = np.unique(np.concatenate([edges.start[lone], edges.end[lone]])).astype(np.int64)
    a, b = mesh.vertices[edges.start[lone]], mesh.vertices[edges.end[lone]]
    length = np.linalg.norm(b - a, axis=1)
    # Across a face that is narrower than the tolerance, its own corners and those of its neighbours are no junctions.
    _, height = _along(mesh.vertices[mesh.faces[lone // 3, (lone + 2) % 3]], a, b)
    height *= SHARE_OF_HEIGHT
    near = cKDTree(mesh.vertices[rim]).query_ball_point(0.5 * (a + b), 0.5 * length + tolerance)
    counts = np.array([len(one) for one in near])
    row = np.repeat(np.arange(len(lone)), counts)
    vertex = rim[np.concatenate([np.asarray(one, np.int64) for one in near])]
    along, off = _along(mesh.vertices[vertex], a[row], b[row])
    inner = (
        (along * length[row] > tolerance)
        & ((1.0 - along) * length[row] > tolerance)
        & (off <= np.minimum(tolerance, height[row]))
    )
    inner &= (mesh.faces[lone[row] // 3] != vertex[:, None]).all(axis=1)
    row, vertex, along = row[inner], vertex[inner], along[inner]
    order = np.lexsort((along, row))
    row, vertex = row[order], vertex[order]
    wanted = _meets_open_edge(edges, lone, row, vertex)[row]
    edge = lone[row[wanted]]
    by_edge = np.argsort(edge, kind="stable")
    return edge[by_edge], vertex[wanted][by_edge]


def _along(points: FloatArray, a: FloatArray, b: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where the foot of each point is between a (0) and b (1), and how far the point is from it."""
    way = b - a
    along = ((points - a) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), np.finfo(float).tiny)
    return along, np.linalg.norm(points - a - along[:, None] * way, axis=1)


def _meets_open_edge(edges: Edges, lone: LongArray, row: LongArray, vertex: LongArray) -> Flags:
    """(len(lone),) bool: whether a piece of the open edge is an open edge of its own."""
    first = np.concatenate([[True], row[1:] != row[:-1]]) if len(row) else np.empty(0, bool)
    last = np.concatenate([row[1:] != row[:-1], [True]]) if len(row) else np.empty(0, bool)
    before = np.where(first, edges.start[lone[row]], np.roll(vertex, 1)).astype(np.int64)
    low, high = np.minimum(before, vertex), np.maximum(before, vertex)
    tail = edges.end[lone[row[last]]].astype(np.int64)
    low = np.concatenate([low, np.minimum(vertex[last], tail)])
    high = np.concatenate([high, np.maximum(vertex[last], tail)])
    meets = np.isin(low << 32 | high, edges.key(lone))
    hit = np.zeros(len(lone), bool)
    hit[np.concatenate([row, row[last]])[meets]] = True
    return hit


def _fans(mesh: Mesh, edge: LongArray, vertex: LongArray) -> Mesh:
    """Cut the face of each half-edge at the given vertices, which are in order along it; one half-edge for a face."""
    half, first, count = np.unique(edge, return_index=True, return_counts=True)
    face, side = half // 3, half % 3
    corners = np.take_along_axis(mesh.faces[face], (side[:, None] + np.arange(3)) % 3, axis=1)
    one = np.arange(len(edge))
    owner = np.repeat(np.arange(len(half)), count)
    is_last = one == (first + count - 1)[owner]
    after = np.where(is_last, corners[owner, 1], np.roll(vertex, -1))
    pieces = np.stack([vertex, after, corners[owner, 2]], axis=1).astype(np.int32)
    faces = mesh.faces.copy()
    faces[face] = np.stack([corners[:, 0], vertex[first], corners[:, 2]], axis=1)
    return Mesh(mesh.vertices, np.vstack([faces, pieces]), np.concatenate([mesh.body, mesh.body[face[owner]]]))
