"""Skins that belong together as one piece of material, so that each piece can be cut by itself.

Material is where the winding number is positive, so it is the union of its pieces: an outward skin with the inward
skins nested directly in it. For a tool T, union(A_i) - T = union(A_i - T): pieces may overlap (buried eyes, pegs) and
are cut one by one. A skin whose bounds no tool meets is outside of the matter altogether.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology


def winding_number(point: FloatArray, corners: FloatArray) -> float:
    """How often closed skins wind around a point that is not on them.

    point: (3,) mm. corners: (m, 3, 3) mm. The sum of the solid angles of the faces over 4 pi, each by van Oosterom
    and Strackee 1983, "The solid angle of a plane triangle", IEEE Trans. Biomed. Eng. 30(2), equation 8.
    """
    a, b, c = (corners[:, k] - point for k in range(3))
    la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
    triple = np.einsum("ij,ij->i", a, np.cross(b, c))
    dots = np.einsum("ij,ij->i", a, b) * lc + np.einsum("ij,ij->i", b, c) * la + np.einsum("ij,ij->i", c, a) * lb
    return float(np.arctan2(triple, la * lb * lc + dots).sum() / (2.0 * math.pi))


def pieces_met(solid: Solid, topology: Topology, boxes: FloatArray) -> tuple[IntArray, ...]:
    """The pieces of material that tools may meet: for each its faces, (k,) int32 ascending; largest piece first.

    boxes: (t, 2, 3) mm, the bounds of the tools. Only skins whose bounds meet a box are in the pieces.
    """
    bounds = topology.bounds_of_skin
    met = np.zeros(topology.n_skins, dtype=bool)
    for low, high in boxes:
        met |= ((bounds[:, 0] <= high) & (bounds[:, 1] >= low)).all(axis=1)
    volume = topology.volume_of_skin
    outward = np.flatnonzero(met & (volume > 0.0))
    inward = np.flatnonzero(met & (volume <= 0.0))
    outward = outward[np.argsort(volume[outward], kind="stable")]
    owner = np.full(topology.n_skins, -1, dtype=np.int64)
    owner[outward] = outward
    body = _body_of_skin(solid, topology)
    for skin in inward:
        owner[skin] = _holder(solid, topology, int(skin), outward[body[outward] == body[skin]])
    heads = [*outward[::-1], *(s for s in inward if owner[s] == s)]
    if len(heads) == 1:
        chosen = met[topology.skin_of_face]
        return (np.flatnonzero(chosen).astype(np.int32),)
    owner_of_face = owner[topology.skin_of_face]
    return tuple(np.flatnonzero(owner_of_face == head).astype(np.int32) for head in heads)


def _body_of_skin(solid: Solid, topology: Topology) -> NDArray[np.int64]:
    first = np.full(topology.n_skins, len(solid.faces), dtype=np.int64)
    if len(solid.bodies) == 1:
        return np.zeros(topology.n_skins, dtype=np.int64)
    np.minimum.at(first, topology.skin_of_face, np.arange(len(solid.faces)))
    starts = np.array([body.start for body in solid.bodies])
    return np.searchsorted(starts, first, side="right") - 1


def _holder(solid: Solid, topology: Topology, skin: int, outward: NDArray[np.int64]) -> int:
    """The smallest outward skin around an inward one; with none around it, the skin itself."""
    bounds = topology.bounds_of_skin
    low, high = bounds[skin]
    around = [s for s in outward if (bounds[s, 0] <= low).all() and (bounds[s, 1] >= high).all()]
    if len(around) == 1:
        return int(around[0])
    for candidate in around:
        corners = solid.vertices[solid.faces[topology.faces_of_skin(int(candidate))]]
        corner = solid.vertices[solid.faces[topology.faces_of_skin(skin)[0], 0]]
        if winding_number(corner, corners) > 0.5:
            return int(candidate)
    return skin
