"""Windings: of faces within their skin, and of whole skins by how they lie inside each other."""

from __future__ import annotations

import numpy as np

from ventplanner.analysis.nesting import Nested, Reading, read_nesting
from ventplanner.errors import MeshError
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import Topology
from ventplanner.geometry.windings import camps
from ventplanner.mend_parameters import NEST, ORIENT
from ventplanner.mending.faces import measured
from ventplanner.mending.model import Flags, LongArray, Mesh, Record, corners_of, record

UNSURE_SHARE = 0.25
"""A skin of whose area more than this share was turned over does not say itself which side its material is on."""


def orient(mesh: Mesh, *, one_sided: bool = False) -> tuple[Mesh, LongArray, tuple[Record, ...]]:
    """Turn faces over so that all windings of a piece agree; of the two ways the one that turns the smaller area.

    Pieces hang together across edges of two faces. Returns also the vertices of pieces of which too much was turned to
    trust the rest. Raises MeshError for a piece with one side only (a Moebius band), or leaves it as it is if
    `one_sided` allows that.
    """
    edges = mesh.edges
    if not edges.flipped:
        return mesh, np.empty(0, np.int64), ()
    neighbour = np.where(edges.mate >= 0, edges.mate // 3, -1)
    agrees = edges.start[edges.mate] != edges.start
    piece, against, twisted = camps(neighbour.reshape(-1, 3), agrees.reshape(-1, 3))
    n = len(twisted)
    if twisted.any() and not one_sided:
        x, y, z = corners_of(mesh, np.flatnonzero(twisted[piece])[:1])[0].tolist()
        raise MeshError(
            f"The skin at ({x:.4g}, {y:.4g}, {z:.4g}) mm has one side only, so that it bounds nothing.",
            "Have it drawn anew with --redraw, or leave this out: --without orient.",
            (x, y, z),
        )
    sums, area = measured(mesh, piece, n)
    share = np.bincount(piece, area * against, n) / np.maximum(sums[:, 1], np.finfo(float).tiny)
    against ^= (share > 0.5)[piece]
    against &= ~twisted[piece]
    unsure = (np.minimum(share, 1.0 - share) > UNSURE_SHARE)[piece]
    faces = mesh.faces.copy()
    faces[against] = faces[against][:, ::-1]
    told = record(ORIENT, "faces turned over", corners_of(mesh, np.flatnonzero(against)))
    return Mesh(mesh.vertices, faces, mesh.body), np.unique(faces[unsure]).astype(np.int64), told


def nest(
    mesh: Mesh, found: Topology, nested: Nested, unsure: LongArray
) -> tuple[Mesh, Topology, tuple[Record, ...], tuple[str, ...]]:
    """Turn whole skins: what is outermost outward, cavities inward, what lies in a cavity outward.

    A skin inside another that points inward is a cavity, wherever that makes sense (an odd number of skins around
    it), so no cavity becomes solid. One that points outward there is a buried body to the winding rule, or a cavity
    whose winding was lost: with nested "auto" the wall around it decides (`analysis.nesting`); "cavity", "solid" and
    "as-is" as there. A skin with one of the vertices `unsure` goes by the number of skins around it alone.
    Returns also the topology and sentences with the evidence.
    """
    solid = Solid(mesh.vertices, mesh.faces)
    reading = read_nesting(solid, found, nested, doubt=True)
    turned = np.zeros(found.n_skins, bool)
    turned[reading.flipped_skins] = True
    if nested != "as-is":
        doubtful = np.zeros(found.n_skins, bool)
        doubtful[found.skin_of_face[np.isin(mesh.faces[:, 0], unsure)]] = True
        turned ^= _by_depth(reading, doubtful)
    if not turned.any():
        return mesh, found, (), reading.notes
    faces = mesh.faces.copy()
    over = turned[found.skin_of_face]
    faces[over] = faces[over][:, ::-1]
    places = found.bounds_of_skin[turned].mean(axis=1)
    outward = (found.volume_of_skin > 0)[turned]
    told = record(NEST, "skins turned inward, as surfaces of cavities", places[outward])
    told += record(NEST, "skins turned outward, as surfaces of bodies", places[~outward])
    return Mesh(mesh.vertices, faces, mesh.body), found.flipped(turned), told, reading.notes


def _by_depth(reading: Reading, unsure: Flags) -> Flags:
    """(n,) bool: skins to turn because of the number of skins around them."""
    outward = reading.topology.volume_of_skin > 0
    meant = reading.depth % 2 == 0
    inner = (reading.depth > 0) & ~reading.pokes
    wrong: Flags = (outward != meant) & ((inner & ~outward) | (unsure & ~reading.pokes))
    return wrong
