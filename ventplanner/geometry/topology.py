"""How the faces of a `Solid` hang together: its skins, their Euler numbers and volumes, and every edge that is wrong.

A skin is a set of faces connected across edges. Two bodies that only touch along an edge or at a vertex stay two
skins: faces are connected where exactly two of them share an edge, and at an edge with more faces each face is paired
with the one on the other side of the material between them, where that is unambiguous.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import MeshError
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology_kernels import (
    CROWDED,
    OPEN,
    SAME_WAY,
    Flags,
    LongArray,
    ShortArray,
    bucket_edges,
    label_skins,
    match_edges,
    measure_skins,
    tally_skins,
)


@dataclass(frozen=True, eq=False)
class Topology:
    """What `topology` finds; every array is read-only.

    Per face: skin_of_face (m,) int32, skins numbered in the order of their first face. A face that names a vertex
    twice, or repeats an earlier one, counts nowhere below; it takes the number of the skin at its place.
    area_of_face (m,) float32 in mm2, 0 for faces that are flat or count nowhere.
    Per skin: euler_of_skin (n,) int64, V - E + F over the vertices, edges and faces of the skin (one shared with
    another skin counts in both); volume_of_skin (n,) float64 in mm3, signed, positive where the normals point
    outward; area_of_skin (n,) float64 in mm2; bounds_of_skin (n, 2, 3) float64 in mm; face_count_of_skin (n,) int64.
    Edges as (k, 2) int32 vertex pairs, lower vertex first: open_edges have one face, nonmanifold_edges three or more,
    flipped_edges two that run the edge in the same direction.
    Faces as (k,) int32: duplicate_faces repeat an earlier face, opposed_faces do so the other way round,
    degenerate_faces name a vertex twice, flat_faces have three vertices on a line.
    shared_vertices (k,) int32: vertices where two or more skins meet.
    is_closed: every edge has exactly two faces and no face was left out. is_oriented: every edge with more than one
    face is run as often in one direction as in the other.
    """

    skin_of_face: IntArray
    area_of_face: ShortArray
    euler_of_skin: LongArray
    volume_of_skin: FloatArray
    area_of_skin: FloatArray
    bounds_of_skin: FloatArray
    face_count_of_skin: LongArray
    open_edges: IntArray
    nonmanifold_edges: IntArray
    flipped_edges: IntArray
    duplicate_faces: IntArray
    opposed_faces: IntArray
    degenerate_faces: IntArray
    flat_faces: IntArray
    shared_vertices: IntArray
    is_oriented: bool

    def __post_init__(self) -> None:
        for value in vars(self).values():
            if isinstance(value, np.ndarray):
                value.flags.writeable = False

    @property
    def n_skins(self) -> int:
        """Number of skins."""
        return len(self.euler_of_skin)

    @property
    def euler(self) -> int:
        """Sum of the Euler numbers of all skins."""
        return int(self.euler_of_skin.sum())

    @property
    def is_closed(self) -> bool:
        """Whether every edge has exactly two faces, with no duplicate or degenerate face left out of the count."""
        wrong = (self.open_edges, self.nonmanifold_edges, self.duplicate_faces, self.degenerate_faces)
        return not any(len(found) for found in wrong)

    @cached_property
    def faces_by_skin(self) -> tuple[IntArray, LongArray]:
        """All faces ordered by skin, (m,) int32, and where each skin's run ends, (n,) int64."""
        order = np.argsort(self.skin_of_face, kind="stable").astype(np.int32)
        ends = np.cumsum(np.bincount(self.skin_of_face, minlength=self.n_skins))
        order.flags.writeable = ends.flags.writeable = False
        return order, ends

    def faces_of_skin(self, skin: int) -> IntArray:
        """The faces of one skin, (k,) int32 ascending."""
        order, ends = self.faces_by_skin
        return order[ends[skin - 1] if skin else 0 : ends[skin]]

    def flipped(self, skins: NDArray[np.bool_]) -> Topology:
        """The topology of `solid.flipped(skins[topology.skin_of_face])` at no cost: only signs of volumes change.

        skins: (n,) bool. `is_oriented` and the lists of edges stay as they are, which is exact unless two of the
        skins share a non-manifold edge.
        """
        return replace(self, volume_of_skin=np.where(skins, -self.volume_of_skin, self.volume_of_skin))


def topology(solid: Solid) -> Topology:
    """Connectivity, orientation and measures of every skin; linear time, about 0.1 s for a million triangles.

    Volumes are sums of v0 . (v1 x v2) / 6 (divergence theorem) about the centre of each skin's bounds.
    Raises MeshError when no face has three different corners.
    """
    faces, n_vertices = solid.faces, len(solid.vertices)
    skip = _degenerate(faces)
    if not len(faces) or skip.all():
        raise MeshError("The part has no triangles.", "The file is empty or damaged; export it again.")
    degenerate = np.flatnonzero(skip)
    mate, state = _match(faces, skip, n_vertices)
    duplicates, originals, opposed = _repeated(faces, mate, state, skip)
    if len(duplicates):
        skip[duplicates] = 1
        mate, state = _match(faces, skip, n_vertices)
    crowded, balanced = _pair_around_edges(solid, mate, state, skip)
    skin = np.full(len(faces), -1, np.int32)
    n_skins = label_skins(mate, skip, skin, np.empty(len(faces), np.int32))
    home, tallies, bounds, away = _tally(solid, skin, n_skins)
    sums, areas = np.zeros((n_skins, 2)), np.zeros(len(faces), np.float32)
    measure_skins(solid.vertices, faces, skin, bounds.mean(axis=1), sums, areas)
    flat = (areas == 0) & (skin >= 0)
    skin[duplicates] = skin[originals]
    skin[degenerate] = np.maximum(home[faces[degenerate, 0]], 0)
    lone = np.flatnonzero(state == OPEN)
    shared, extra = _shared_vertices(faces, skin, home, away, n_skins)
    edges = _edges_of_skins(skin, tallies[:, 1], lone // 3, crowded)
    return Topology(
        skin_of_face=skin,
        area_of_face=areas,
        euler_of_skin=tallies[:, 0] + extra - edges + tallies[:, 1],
        volume_of_skin=sums[:, 0].copy(),
        area_of_skin=sums[:, 1].copy(),
        bounds_of_skin=bounds,
        face_count_of_skin=tallies[:, 1].copy(),
        open_edges=_ends(faces, lone),
        nonmanifold_edges=_ends(faces, np.flatnonzero(state == CROWDED)),
        flipped_edges=_ends(faces, np.flatnonzero(state == SAME_WAY)),
        duplicate_faces=duplicates.astype(np.int32),
        opposed_faces=opposed.astype(np.int32),
        degenerate_faces=degenerate.astype(np.int32),
        flat_faces=np.flatnonzero(flat).astype(np.int32),
        shared_vertices=shared,
        is_oriented=balanced and not (state == SAME_WAY).any(),
    )


def face_neighbours(solid: Solid, left_out: IntArray) -> tuple[IntArray, NDArray[np.bool_]]:
    """Across each side of each face: the other face where exactly two share the edge, and whether their windings agree.

    left_out: (k,) faces to take no notice of, such as duplicates. Returns neighbour (m, 3) int32, -1 where there is
    none, and agrees (m, 3) bool; side k runs from corner k to the next. Degenerate faces have no neighbours.
    """
    faces = solid.faces
    skip = _degenerate(faces)
    skip[left_out] = 1
    mate, _ = _match(faces, skip, len(solid.vertices))
    start = faces.reshape(-1)
    agrees = (mate >= 0) & (start[mate] != start)
    return np.where(mate >= 0, mate // 3, -1).astype(np.int32).reshape(-1, 3), agrees.reshape(-1, 3)


def half_edge_mates(faces: IntArray, n_vertices: int) -> tuple[IntArray, Flags]:
    """The partner of each half-edge 3 f + k, (3 m,) int32, -1 where an edge has not exactly two faces; and its state.

    state (3 m,) uint8, on the first half-edge of an edge only: PAIRED, OPEN, SAME_WAY or CROWDED of `topology_kernels`.
    Faces that name a vertex twice have no edges.
    """
    return _match(faces, _degenerate(faces), n_vertices)


def extract_faces(solid: Solid, faces: NDArray[np.integer]) -> Solid:
    """A solid of the given faces ((k,) indices) alone, with only the vertices that they use."""
    used, index = np.unique(solid.faces[faces], return_inverse=True)
    return solid.with_mesh(solid.vertices[used], index.reshape(-1, 3).astype(np.int32))


def _degenerate(faces: IntArray) -> Flags:
    a, b, c = faces[:, 0], faces[:, 1], faces[:, 2]
    flags: Flags = ((a == b) | (b == c) | (c == a)).astype(np.uint8)
    return flags


def _match(faces: IntArray, skip: Flags, n_vertices: int) -> tuple[IntArray, Flags]:
    start, half = np.zeros(n_vertices + 2, np.int32), np.empty(faces.size, np.int32)
    bucket_edges(faces, skip, start, half)
    mate, state = np.full(faces.size, -1, np.int32), np.zeros(faces.size, np.uint8)
    match_edges(faces, start, half, np.full(n_vertices, -1, np.int32), mate, state)
    return mate, state


def _tally(solid: Solid, skin: IntArray, n_skins: int) -> tuple[IntArray, LongArray, FloatArray, LongArray]:
    """First skin of each vertex, vertices and faces per skin, bounds per skin, faces with a vertex of another skin."""
    home, tallies = np.full(len(solid.vertices), -1, np.int32), np.zeros((n_skins, 2), np.int64)
    bounds, away = np.empty((n_skins, 2, 3)), np.zeros(len(skin), np.uint8)
    bounds[:, 0], bounds[:, 1] = np.inf, -np.inf
    tally_skins(solid.vertices, solid.faces, skin, home, tallies, bounds, away)
    return home, tallies, bounds, np.flatnonzero(away)


def _ends(faces: IntArray, half: LongArray) -> IntArray:
    """The vertex pairs, lower first, of half-edges."""
    f, k = half // 3, half % 3
    return np.sort(np.stack([faces[f, k], faces[f, (k + 1) % 3]], axis=1), axis=1)


def _repeated(faces: IntArray, mate: IntArray, state: Flags, skip: Flags) -> tuple[LongArray, LongArray, LongArray]:
    """Faces that repeat an earlier one, the faces they repeat, and faces that repeat one the other way round.

    Only faces at an edge with other than two opposite faces can repeat one.
    """
    if state.max(initial=0) < SAME_WAY:
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, np.int64)
    suspect = mate < 0
    same = np.flatnonzero(state == SAME_WAY)
    suspect[same] = True
    suspect[mate[same]] = True
    chosen = np.flatnonzero(suspect.reshape(-1, 3).any(axis=1) & (skip == 0))
    triples = faces[chosen]
    # Rotate the lowest vertex to the front: the same face then reads the same, the opposed one has the rest swapped.
    turn = (triples.argmin(axis=1)[:, None] + np.arange(3)) % 3
    triples = np.take_along_axis(triples, turn, axis=1)
    odd = triples[:, 1] > triples[:, 2]
    triples[odd] = triples[odd][:, [0, 2, 1]]
    first = triples[:, 0] * (np.int64(faces.max()) + 1) + triples[:, 1]
    rest = 2 * triples[:, 2].astype(np.int64) + odd
    order = np.lexsort((rest, first))
    same_place = (first[order[1:]] == first[order[:-1]]) & (rest[order[1:]] // 2 == rest[order[:-1]] // 2)
    same_turn = odd[order[1:]] == odd[order[:-1]]
    group = np.concatenate([[0], np.cumsum(~(same_place & same_turn))])
    leader = chosen[order[np.searchsorted(group, group)]]
    repeats = chosen[order[1:]][same_place & same_turn]
    opposed = chosen[order[1:]][same_place & ~same_turn]
    ascending = np.argsort(repeats)
    return repeats[ascending], leader[1:][same_place & same_turn][ascending], np.sort(opposed)


def _pair_around_edges(solid: Solid, mate: IntArray, state: Flags, skip: Flags) -> tuple[LongArray, bool]:
    """Pair the faces around every edge of three or more; fills `mate` in place where the pairing is unambiguous.

    Seen along the edge, the faces are sorted by angle. A face that runs the edge from its higher to its lower vertex
    has its material on the side of growing angles, the others on the other side, so a wedge of material starts at
    the former and ends at the next of the latter. Where starts and ends alternate, each wedge is one pair. At equal
    angles (two bodies that share a face) the end comes first.
    Returns (k, 2) int64 edge number and half-edge of all of them, and whether each edge has as many starts as ends.
    """
    if state.max(initial=0) < CROWDED:
        return np.empty((0, 2), np.int64), True
    faces = solid.faces
    half = np.flatnonzero((mate < 0) & (np.repeat(skip, 3) == 0))
    ends = _ends(faces, half).astype(np.int64)
    key = ends[:, 0] * len(solid.vertices) + ends[:, 1]
    _, edge, count = np.unique(key, return_inverse=True, return_counts=True)
    half, edge = half[count[edge] > 2], edge[count[edge] > 2]
    f, k = half // 3, half % 3
    start, end, tip = faces[f, k], faces[f, (k + 1) % 3], faces[f, (k + 2) % 3]
    begins = start > end
    angle = angles_about(solid.vertices, np.minimum(start, end), np.maximum(start, end), tip)
    order = np.lexsort((begins, angle, edge))
    half, edge, begins = half[order], edge[order], begins[order]
    first = np.searchsorted(edge, edge)
    last = np.searchsorted(edge, edge, side="right") - 1
    place = np.arange(len(edge))
    after = np.where(place == last, first, place + 1)
    alternates = begins != begins[after]
    clean = np.ones(int(edge.max()) + 1, bool)
    clean[edge[~alternates]] = False
    pair = clean[edge] & begins
    mate[half[pair]] = half[after[pair]]
    mate[half[after[pair]]] = half[pair]
    balance = np.bincount(edge, np.where(begins, 1.0, -1.0))
    return np.stack([edge, half], axis=1).astype(np.int64), not balance.any()


def angles_about(vertices: FloatArray, low: IntArray, high: IntArray, tip: IntArray) -> FloatArray:
    """Angle of `tip` about the axis from `low` to `high`, counter-clockwise, the same zero for the same edge."""
    axis = vertices[high] - vertices[low]
    axis /= np.maximum(np.linalg.norm(axis, axis=1, keepdims=True), np.finfo(float).tiny)
    across = np.zeros_like(axis)
    across[np.arange(len(axis)), np.abs(axis).argmin(axis=1)] = 1.0
    across = np.cross(axis, across)
    towards = vertices[tip] - vertices[low]
    turned = np.cross(axis, across)
    angle: FloatArray = np.arctan2((towards * turned).sum(axis=1), (towards * across).sum(axis=1))
    return angle


def _shared_vertices(
    faces: IntArray, skin: IntArray, home: IntArray, away: LongArray, n_skins: int
) -> tuple[IntArray, LongArray]:
    """Vertices of several skins, and how many each skin has beside those it was the first to use."""
    vertex, of = faces[away].reshape(-1), np.repeat(skin[away], 3)
    guest = home[vertex] != of
    pairs = np.unique(vertex[guest].astype(np.int64) * n_skins + of[guest])
    return np.unique(pairs // n_skins).astype(np.int32), np.bincount(pairs % n_skins, minlength=n_skins)


def _edges_of_skins(skin: IntArray, n_faces: LongArray, lone: LongArray, crowded: LongArray) -> LongArray:
    """Number of different edges of each skin from its faces, its open edges' faces and its crowded half-edges."""
    n = len(n_faces)
    n_open = np.bincount(skin[lone], minlength=n)
    of = skin[crowded[:, 1] // 3]
    halves = np.bincount(of, minlength=n)
    different = np.unique(crowded[:, 0] * n + of) % n
    edges: LongArray = (3 * n_faces - n_open - halves) // 2 + n_open + np.bincount(different, minlength=n)
    return edges
