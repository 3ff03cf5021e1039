"""What is the matter with a mesh: each kind of damage with its count and a place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import IntArray, Solid
from ventplanner.geometry.topology import Topology, face_neighbours

OPEN_EDGES: Final = "open edges"
NON_MANIFOLD_EDGES: Final = "non-manifold edges"
FLIPPED_FACES: Final = "flipped faces"
ONE_SIDED_SKINS: Final = "one-sided skins"
DUPLICATE_FACES: Final = "duplicate faces"
OPPOSED_FACES: Final = "back-to-back faces"
DEGENERATE_FACES: Final = "degenerate faces"
FLAT_FACES: Final = "faces without area"
TOUCHING_SKINS: Final = "vertices where skins touch"
INSIDE_OUT: Final = "inside-out skins"
EMPTY_SKINS: Final = "skins without volume"


@dataclass(frozen=True)
class HealthNote:
    """One kind of damage: what it is (one of this module's names), how often, and a place in mm in the file's axes."""

    what: str
    count: int
    at_mm: tuple[float, float, float] | None = None


def examine(solid: Solid, topology: Topology) -> tuple[HealthNote, ...]:
    """All that is wrong with the mesh, worst first; empty for a sound one. The place is that of the first case."""
    flipped, one_sided = flipped_faces(solid, topology)
    notes = [
        _of_vertices(solid, OPEN_EDGES, topology.open_edges),
        _of_vertices(solid, NON_MANIFOLD_EDGES, topology.nonmanifold_edges),
        _of_vertices(solid, FLIPPED_FACES, solid.faces[flipped]),
        _of_skins(topology, ONE_SIDED_SKINS, one_sided),
        _of_skins(topology, INSIDE_OUT, _inside_out(topology)),
        _of_vertices(solid, DUPLICATE_FACES, solid.faces[topology.duplicate_faces]),
        _of_vertices(solid, OPPOSED_FACES, solid.faces[topology.opposed_faces]),
        _of_vertices(solid, DEGENERATE_FACES, solid.faces[topology.degenerate_faces]),
        _of_skins(topology, EMPTY_SKINS, _without_volume(topology)),
        _of_vertices(solid, FLAT_FACES, solid.faces[topology.flat_faces]),
        _of_vertices(solid, TOUCHING_SKINS, topology.shared_vertices[:, None]),
    ]
    return tuple(note for note in notes if note.count)


def flipped_faces(solid: Solid, topology: Topology) -> tuple[IntArray, IntArray]:
    """Faces whose winding disagrees with the rest of their skin, and skins that have no two sides.

    Returns (k,) int32 faces, the smaller of the two camps of each skin (of two equal camps the one without the
    skin's first face), and (j,) int32 skins on which no choice of windings agrees (a Moebius band).
    """
    if not len(topology.flipped_edges):
        return np.empty(0, np.int32), np.empty(0, np.int32)
    # Compiled when a part first asks for it.
    from ventplanner.geometry.windings import camps

    neighbour, agrees = face_neighbours(solid, topology.duplicate_faces)
    piece, over, twisted = camps(neighbour, agrees)
    skin = topology.skin_of_face
    _, first = np.unique(skin, return_index=True)
    one_sided = np.flatnonzero(twisted[piece[first]])
    lead = first[skin]
    against = (piece == piece[lead]) & (over != over[lead])
    against[np.isin(skin, one_sided)] = False
    left_out = np.concatenate([topology.duplicate_faces, topology.degenerate_faces])
    against[left_out] = False
    more = 2 * np.bincount(skin[against], minlength=topology.n_skins) > topology.face_count_of_skin
    against ^= more[skin]
    against[left_out] = False
    return np.flatnonzero(against).astype(np.int32), one_sided.astype(np.int32)


def _inside_out(topology: Topology) -> NDArray[np.intp]:
    """Skins that reach the part's bounds, so that nothing can contain them, where all such skins point inward."""
    bounds = topology.bounds_of_skin
    reaches = ((bounds[:, 0] == bounds[:, 0].min(axis=0)) | (bounds[:, 1] == bounds[:, 1].max(axis=0))).any(axis=1)
    negative = topology.volume_of_skin < 0
    return np.flatnonzero(reaches) if negative[reaches].all() else np.empty(0, np.intp)


def _without_volume(topology: Topology) -> NDArray[np.intp]:
    """Skins whose volume is nothing against their area: sheets, two faces back to back."""
    return np.flatnonzero(np.abs(topology.volume_of_skin) <= 1e-9 * topology.area_of_skin**1.5)


def _of_vertices(solid: Solid, what: str, corners: NDArray[np.integer]) -> HealthNote:
    """A note on things given by their (k, c) vertices, at the middle of the first one."""
    if not len(corners):
        return HealthNote(what, 0)
    x, y, z = solid.vertices[corners[0]].mean(axis=0).tolist()
    return HealthNote(what, len(corners), (x, y, z))


def _of_skins(topology: Topology, what: str, skins: NDArray[np.integer]) -> HealthNote:
    """A note on skins, at the middle of the first one's bounds."""
    if not len(skins):
        return HealthNote(what, 0)
    x, y, z = topology.bounds_of_skin[skins[0]].mean(axis=0).tolist()
    return HealthNote(what, len(skins), (x, y, z))
