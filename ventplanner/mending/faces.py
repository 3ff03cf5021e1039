"""Faces that should not be there: repeated ones, double ones back to back, those without area, and loose scraps."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.topology import Topology
from ventplanner.geometry.topology_kernels import SAME_WAY, label_skins, measure_skins
from ventplanner.mend_parameters import DEGENERATE, DUPLICATES, LOOSE
from ventplanner.mending.edges import Edges
from ventplanner.mending.model import Flags, LongArray, Mesh, Record, corners_of, record

SCRAP_SHARE = 0.02
"""An open scrap is loose when its area is below this share of the whole."""

SHEET_SHARE = 0.5
"""An open piece is a sheet, and no body with a hole, when one of its rims is at least this share of its own size."""

EMPTY_MM = 0.002
"""A closed piece bounds nothing when it is thinner than this: two volumes by its area. No printer makes that."""

_ROUNDS = 6


def drop_duplicates(mesh: Mesh) -> tuple[Mesh, tuple[Record, ...]]:
    """Keep one of faces with the same three vertices; where they lie back to back, the one that fits its surroundings.

    A patch of double faces whose rim has one other face all along is part of a skin, and one layer stays. A patch with
    none or two other faces there is a flap without thickness, and both layers go.
    """
    suspect = suspects(mesh)
    if not suspect.any():
        return mesh, ()
    faces = np.flatnonzero(suspect)
    gone = np.zeros(len(mesh.faces), bool)
    few = mesh.keeping(suspect)
    repeats, group = _repeats(few)
    gone[faces[repeats]] = True
    records = record(DUPLICATES, "faces that repeat another one removed", corners_of(mesh, faces[repeats]))
    few, group, faces = few.keeping(~repeats), group[~repeats], faces[~repeats]
    both = np.flatnonzero(np.bincount(group)[group] == 2)
    if len(both):
        layer = _back_to_back(few, both, group)
        gone[faces[layer]] = True
        records += record(DUPLICATES, "faces that lay back to back removed", corners_of(mesh, faces[layer]))
    return mesh.keeping(~gone) if records else mesh, records


def suspects(mesh: Mesh) -> Flags:
    """(m,) bool: faces at an edge with other than two faces in opposite directions; only these can repeat one."""
    edges = mesh.edges
    same = np.flatnonzero(edges.state == SAME_WAY)
    wrong = np.concatenate([np.flatnonzero(edges.mate < 0), same, edges.mate[same]])
    found = np.zeros(len(mesh.faces), bool)
    found[wrong // 3] = True
    return found


def _repeats(mesh: Mesh) -> tuple[Flags, LongArray]:
    """Faces that repeat an earlier one with its winding, (m,) bool; and a number for each face, equal for the same
    three vertices in whatever order."""
    triple = np.sort(mesh.faces, axis=1).astype(np.int64)
    order, run = _grouped(triple, len(mesh.vertices))
    group = np.empty(len(triple), np.int64)
    group[order] = run
    even = np.zeros(len(triple), bool)
    for k in range(3):
        even |= (mesh.faces == np.roll(triple, k, axis=1)).all(axis=1)
    _, first = np.unique(2 * group + even, return_index=True)
    repeats = np.ones(len(triple), bool)
    repeats[first] = False
    return repeats, group


def _grouped(triple: LongArray, n_vertices: int) -> tuple[LongArray, LongArray]:
    """Order of faces by their vertices, and the number of each run of equal ones."""
    head = triple[:, 0] * n_vertices + triple[:, 1]
    order = np.lexsort((triple[:, 2], head))
    same = (head[order[1:]] == head[order[:-1]]) & (triple[order[1:], 2] == triple[order[:-1], 2])
    return order, np.concatenate([[0], np.cumsum(~same)])


def _back_to_back(mesh: Mesh, both: LongArray, group_of: LongArray) -> Flags:
    """(m,) bool: which faces of pairs with opposite windings go. both: the faces of all pairs."""
    double = np.zeros(len(mesh.faces), bool)
    double[both] = True
    half = np.arange(mesh.faces.size)
    start, end = mesh.faces.reshape(-1).astype(np.int64), np.roll(mesh.faces, -1, axis=1).reshape(-1).astype(np.int64)
    key = np.minimum(start, end) << 32 | np.maximum(start, end)
    near = np.isin(key, key[double[half // 3]])
    half, key = half[near], key[near]
    _, edge = np.unique(key, return_inverse=True)
    is_double = double[half // 3]
    forward = np.where(start[half] < end[half], 1, -1)
    singles = np.bincount(edge, ~is_double)
    turn = np.bincount(edge, np.where(is_double, 0, forward))
    # Patches of double faces, across edges that two pairs share and nobody else.
    pair, numbers = np.unique(group_of[both], return_inverse=True)
    of = np.searchsorted(pair, group_of[half[is_double] // 3])
    doubles = edge[is_double]
    inner = (np.bincount(edge, is_double) == 4)[doubles] & (singles[doubles] == 0)
    shape = (len(pair), len(singles))
    links = coo_array((np.ones(int(inner.sum()), np.int8), (of[inner], doubles[inner])), shape=shape).tocsr()
    n_patches, found = connected_components(links @ links.T, directed=False)
    patch, rim = found.astype(np.int64), ~inner
    odd = np.bincount(patch[of[rim]], singles[doubles[rim]] % 2 == 1, n_patches)
    rest = np.bincount(patch[of[rim]], singles[doubles[rim]] % 2 == 0, n_patches)
    stays = odd > rest
    stays |= (odd + rest) == 0
    # Of a layer that stays, the one that runs the edges against the single faces around.
    fits = np.zeros(len(mesh.faces))
    np.add.at(fits, half[is_double] // 3, -turn[doubles] * forward[is_double])
    layer = _layers(mesh, both, numbers, patch)
    score = np.bincount(layer, fits[both], int(layer.max()) + 1)
    sign = score[layer]
    lead = np.bincount(2 * patch[numbers] + (layer % 2), sign, 2 * n_patches).reshape(-1, 2)
    better = (lead[:, 1] > lead[:, 0]).astype(np.int64)
    gone = np.zeros(len(mesh.faces), bool)
    gone[both] = ~stays[patch[numbers]] | (layer % 2 != better[patch[numbers]])
    return gone


def _layers(mesh: Mesh, both: LongArray, numbers: LongArray, patch: LongArray) -> LongArray:
    """2 * patch + which of the two layers of its patch each face of a pair is of; windings in a layer agree."""
    rows = mesh.faces[both]
    start, end = rows.reshape(-1).astype(np.int64), np.roll(rows, -1, axis=1).reshape(-1).astype(np.int64)
    place = np.repeat(np.arange(len(both)), 3)
    key, forward = np.minimum(start, end) << 32 | np.maximum(start, end), start < end
    order = np.lexsort((numbers[place], key))
    _, first, count = np.unique(key[order], return_index=True, return_counts=True)
    # Four half-edges of two pairs: P, P, Q, Q. Each of P goes with the one of Q that runs the other way.
    four = order[first[count == 4][:, None] + np.arange(4)]
    crosswise = forward[four[:, 0]] != forward[four[:, 2]]
    one = place[four[:, :2]].reshape(-1)
    other = place[np.where(crosswise[:, None], four[:, 2:], four[:, :1:-1])].reshape(-1)
    linked = patch[numbers[one]] == patch[numbers[other]]
    graph = coo_array((np.ones(int(linked.sum()), np.int8), (one[linked], other[linked])), shape=(len(both),) * 2)
    _, sheet = connected_components(graph, directed=False)
    # The sheet with the lowest number in its patch is layer 0.
    lowest = np.full(int(patch.max()) + 1, len(both))
    np.minimum.at(lowest, patch[numbers], sheet)
    layer: LongArray = 2 * patch[numbers] + (sheet != lowest[patch[numbers]])
    return layer


def drop_degenerate(mesh: Mesh) -> tuple[Mesh, tuple[Record, ...]]:
    """Remove faces that name a vertex twice; turn over the longest edge of those whose vertices lie on a line.

    A flat face and its neighbour across the longest edge become two faces that meet in the vertex between.
    """
    a, b, c = mesh.faces.T
    twice = (a == b) | (b == c) | (c == a)
    records = record(DEGENERATE, "faces that named a vertex twice removed", corners_of(mesh, np.flatnonzero(twice)))
    mesh = mesh.keeping(~twice) if twice.any() else mesh
    places = []
    for _ in range(_ROUNDS):
        mesh, turned = _turn_flat(mesh)
        if not len(turned):
            break
        places.append(turned)
    found = np.vstack(places) if places else np.empty((0, 3))
    return mesh, records + record(DEGENERATE, "faces without area merged with their neighbour", found)


def _turn_flat(mesh: Mesh) -> tuple[Mesh, FloatArray]:
    _, areas = measured(mesh, np.zeros(len(mesh.faces), np.int32), 1)
    flat = np.flatnonzero(areas == 0)
    if not len(flat):
        return mesh, np.empty((0, 3))
    edges = mesh.edges
    corners = mesh.vertices[mesh.faces[flat]]
    squares = ((np.roll(corners, -1, axis=1) - corners) ** 2).sum(axis=2)
    half = 3 * flat + squares.argmax(axis=1)
    mate = edges.mate[half]
    is_flat = np.zeros(len(mesh.faces), bool)
    is_flat[flat] = True
    usable = (mate >= 0) & ~is_flat[np.maximum(mate, 0) // 3]
    half, mate = half[usable], mate[usable]
    _, once = np.unique(mate // 3, return_index=True)
    half, mate = half[once], mate[once]
    f, k, g, j = half // 3, half % 3, mate // 3, mate % 3
    # Both get the winding of the neighbour; that of a flat face says nothing.
    tip, b, a = mesh.faces[f, (k + 2) % 3], mesh.faces[g, j], mesh.faces[g, (j + 1) % 3]
    far = mesh.faces[g, (j + 2) % 3]
    fresh = tip != far
    a, b, tip, far, f, g = (x[fresh] for x in (a, b, tip, far, f, g))
    faces = mesh.faces.copy()
    faces[f] = np.stack([tip, a, far], axis=1)
    faces[g] = np.stack([b, tip, far], axis=1)
    return Mesh(mesh.vertices, faces, mesh.body), mesh.vertices[tip]


def drop_loose(mesh: Mesh, found: Topology) -> tuple[Mesh, tuple[Record, ...]]:
    """Remove scraps: small open sheets, and closed pieces without volume such as two faces back to back."""
    area, bounds = found.area_of_skin, found.bounds_of_skin
    rim = _widest_rims(mesh, found)
    is_open = rim >= 0.0
    size = np.linalg.norm(bounds[:, 1] - bounds[:, 0], axis=1)
    sheet = is_open & (rim >= SHEET_SHARE * size) & (area < SCRAP_SHARE * area.sum())
    empty = ~is_open & (2.0 * np.abs(found.volume_of_skin) <= EMPTY_MM * area)
    loose = sheet | empty
    if not loose.any() or loose.all():
        return mesh, ()
    gone = loose[found.skin_of_face]
    _, first = np.unique(found.skin_of_face[gone], return_index=True)
    places = corners_of(mesh, np.flatnonzero(gone)[first])
    return mesh.keeping(~gone), record(LOOSE, "scraps that bound nothing removed", places)


def _widest_rims(mesh: Mesh, found: Topology) -> FloatArray:
    """(n,) mm: the diagonal of the largest box round one rim of each skin; -1 for a skin without one."""
    widest = np.full(found.n_skins, -1.0)
    if not len(found.open_edges):
        return widest
    lone = mesh.edges.open
    skin = found.skin_of_face[lone // 3].astype(np.int64)
    ends = np.stack([mesh.edges.start[lone], mesh.edges.end[lone]], axis=1)
    # A vertex at which two skins touch is one of each.
    used, node = np.unique(skin[:, None] * len(mesh.vertices) + ends, return_inverse=True)
    node = node.reshape(-1, 2)
    graph = coo_array((np.ones(len(node), np.int8), (node[:, 0], node[:, 1])), shape=(len(used),) * 2)
    n, label = connected_components(graph, directed=False)
    rim = label[node[:, 0]].astype(np.int32)
    low, high = bounds_of(rim, mesh.vertices[ends], n, 2)
    np.maximum.at(widest, skin, np.linalg.norm(high - low, axis=1)[rim])
    return widest


def pieces_of(mesh: Mesh, edges: Edges) -> tuple[IntArray, int]:
    """The piece of each face, connected across edges of exactly two faces, (m,) int32; and how many there are."""
    m = len(mesh.faces)
    piece = np.full(m, -1, np.int32)
    n = label_skins(edges.mate, np.zeros(m, np.uint8), piece, np.empty(m, np.int32))
    return piece, int(n)


def measured(mesh: Mesh, piece: IntArray, n: int) -> tuple[FloatArray, NDArray[np.float32]]:
    """(n, 2) volume in mm3 and area in mm2 of each piece, and (m,) area of each face, 0 for one that is flat."""
    sums, areas = np.zeros((n, 2)), np.zeros(len(mesh.faces), np.float32)
    middle = np.tile(mesh.vertices[0], (n, 1))
    measure_skins(mesh.vertices, mesh.faces, piece, middle, sums, areas)
    return sums, areas


def bounds_of(piece: IntArray, points: FloatArray, n: int, each: int) -> tuple[FloatArray, FloatArray]:
    """(n, 3) lowest and highest corner of each piece; `each` points in turn are of piece[0], piece[1] and so on.

    A piece without points gets the point 0.
    """
    order = np.argsort(piece, kind="stable")
    rows = points.reshape(-1, each, 3)[order]
    low, high = np.zeros((n, 3)), np.zeros((n, 3))
    if len(rows):
        used, first = np.unique(piece[order], return_index=True)
        low[used] = np.minimum.reduceat(rows.min(axis=1), first)
        high[used] = np.maximum.reduceat(rows.max(axis=1), first)
    return low, high
