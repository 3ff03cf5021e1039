"""Closed bodies that overlap, and cavities that reach through a skin: one skin, where the winding gets positive."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.analysis.health import HealthNote
from ventplanner.analysis.nesting import Reading, read_nesting
from ventplanner.geometry.boolean import by_winding
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology
from ventplanner.mend_parameters import UNITE
from ventplanner.mending.flush import opened, shared
from ventplanner.mending.model import THROUGH_ITSELF, Flags, LongArray, Mesh, Record, corners_of, record


def unite(
    mesh: Mesh, found: Topology, pairs: LongArray
) -> tuple[Mesh, tuple[Record, ...], tuple[HealthNote, ...]]:  # fmt: skip
    """Keep material where the winding number is positive (3MF Core 1.4.0, section 4.1.1), wherever skins cross or
    bodies share material.

    Skins that cross nothing stay to the last bit, unless they lie whole in the material of a body that does not need
    them. A skin that goes through itself, and all that crosses it, is left as it is, and told in a note.
    pairs: (k, 2) faces that go through each other.
    """
    solid = Solid(mesh.vertices, mesh.faces)
    skins = found.skin_of_face[pairs]
    itself = skins[:, 0] == skins[:, 1]
    reading = read_nesting(solid, found, "as-is")
    flush, flush_at = shared(solid, found, reading, skins)
    through, through_at, pushed = opened(solid, found, skins)
    group, wanted = _groups(found, reading, np.vstack([skins, flush, through]))
    records: tuple[Record, ...] = ()
    places, beside, mouths, buried = [], [], [], []
    kept = np.ones(len(mesh.faces), bool)
    more: list[tuple[FloatArray, IntArray, IntArray]] = []
    tangled = np.unique(group[skins[itself, 0]])
    for number in np.setdiff1d(wanted, tangled).tolist():
        members = np.flatnonzero(group == number)
        crossing, meeting = np.isin(skins[:, 0], members), np.isin(flush[:, 0], members)
        more.append(_united(Mesh(pushed, mesh.faces, mesh.body), found, members))
        kept &= ~np.isin(found.skin_of_face, members)
        if crossing.any():
            joined = np.unique(skins[crossing])
            places.append(corners_of(mesh, pairs[crossing][_first_of(skins[crossing], joined), 0]))
        if meeting.any():
            joined = np.setdiff1d(flush[meeting], skins[crossing])
            beside.append(flush_at[meeting][_first_of(flush[meeting], joined)])
        opening = np.isin(through[:, 0], members)
        if opening.any():
            mouths.append(through_at[opening][_first_of(through[opening], np.unique(through[opening, 0]))])
        if not (crossing.any() or meeting.any() or opening.any()):
            buried.append(found.bounds_of_skin[members].mean(axis=1))
    note = _through_itself(mesh, pairs[itself][:, 0])
    mesh = _replaced(mesh, kept, more) if more else mesh
    records += record(UNITE, "skins that crossed others made one with them", _stacked(places))
    records += record(UNITE, "skins that share material with others, flush with them, made one", _stacked(beside))
    records += record(UNITE, "cavities flush with a skin, with no wall between, opened", _stacked(mouths))
    records += record(UNITE, "skins buried in material, and those around, made one", _stacked(buried))
    return mesh, records, note


def _through_itself(mesh: Mesh, faces: LongArray) -> tuple[HealthNote, ...]:
    if not len(faces):
        return ()
    x, y, z = corners_of(mesh, faces[:1])[0].tolist()
    return (HealthNote(THROUGH_ITSELF, len(np.unique(faces)), (x, y, z)),)


def _stacked(places: list[FloatArray]) -> FloatArray:
    return np.vstack(places) if places else np.empty((0, 3))


def _first_of(skins: IntArray | LongArray, joined: IntArray | LongArray) -> LongArray:
    """For each skin the first pair that it is in."""
    return np.array([int(np.flatnonzero((skins == skin).any(axis=1))[0]) for skin in joined], np.int64)


def _groups(found: Topology, reading: Reading, skins: IntArray) -> tuple[IntArray, LongArray]:
    """A number for each skin, equal where they have to be worked out together, and the numbers where that is needed."""
    n = found.n_skins
    outward = found.volume_of_skin > 0
    around = reading.container
    inside = np.flatnonzero((around >= 0) & ~reading.pokes)
    # A body that lies in material; a cavity of it, or one that is not needed, follows.
    buried = inside[outward[inside] & outward[around[inside]]]
    needy: Flags = np.zeros(n, bool)
    needy[skins.ravel()] = True
    needy[buried] = True
    linked = inside[needy[inside] | needy[around[inside]]]
    links = np.vstack([skins, np.stack([linked, around[linked]], axis=1)])
    graph = coo_array((np.ones(len(links), np.int8), (links[:, 0], links[:, 1])), shape=(n, n))
    _, group = connected_components(graph, directed=False)
    return group, np.unique(group[needy])


def _united(mesh: Mesh, found: Topology, members: LongArray) -> tuple[FloatArray, IntArray, IntArray]:
    bodies, hollows, of_body, of_hollow = [], [], [], []
    for skin in members.tolist():
        rows = found.faces_of_skin(skin)
        used, index = np.unique(mesh.faces[rows], return_inverse=True)
        faces = index.reshape(-1, 3).astype(np.int32)
        if found.volume_of_skin[skin] > 0:
            bodies.append((mesh.vertices[used], faces))
            of_body.append(mesh.body[rows[0]])
        else:
            hollows.append((mesh.vertices[used], faces[:, ::-1]))
            of_hollow.append(mesh.body[rows[0]])
    vertices, faces, owner = by_winding(bodies, hollows)
    return vertices, faces, np.array([*of_body, *of_hollow], np.int32)[owner]


def _replaced(mesh: Mesh, kept: Flags, more: list[tuple[FloatArray, IntArray, IntArray]]) -> Mesh:
    mesh = mesh.keeping(kept)
    for vertices, faces, body in more:
        mesh = mesh.adding(vertices, faces + len(mesh.vertices), body)
    return mesh
