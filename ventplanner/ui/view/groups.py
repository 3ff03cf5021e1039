"""Which faces of a mesh belong to the skin, to which cavity, or to a drilled hole. Vectorised numpy only."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.ui.picture import Mesh

Groups = NDArray[np.int16]

SKIN, BORE = -1, -2
"""Groups that are no cavity: the outer skin, and the wall of a drilled hole. Cavities count from 0."""

_POINTS_AT_ONCE = 128
_LEAST_KEPT, _FEW = 0.1, 500
"""Drills leave at least this share of the faces as they were, except of parts of very few."""

_ON_FACE_MM = 2e-3
"""A cut face lies on the face it was cut from to about the rounding of single precision."""


def groups_of(part: Mesh, cavities: Sequence[IntArray]) -> Groups:
    """(m,) group of each face of the part, from the faces of each cavity."""
    group = np.full(len(part.faces), SKIN, dtype=np.int16)
    for number, faces in enumerate(cavities):
        group[faces] = number
    return group


def carried_over(part: Mesh, group: Groups, drilled: Mesh) -> Groups | None:
    """(k,) group of each face of the drilled part; None if it is no cut of this part, or of it in another pose.

    A cut leaves all other faces as they were, so most are found again by their corners, bit by bit. A new face either
    lies on one that is gone, and is a piece of it, or is the wall of a hole.
    """
    corner = _found(_names(drilled.vertices), _names(part.vertices))
    known = corner[drilled.faces]
    face = np.full(len(drilled.faces), -1, dtype=np.int64)
    whole = np.flatnonzero((known >= 0).all(axis=1))
    face[whole] = _found(_names(np.sort(known[whole], axis=1)), _names(np.sort(part.faces.astype(np.int64), axis=1)))
    out = np.full(len(drilled.faces), BORE, dtype=np.int16)
    old = face >= 0
    if old.sum() < _LEAST_KEPT * len(part.faces) and len(part.faces) > _FEW:
        return None
    out[old] = group[face[old]]
    gone = np.ones(len(part.faces), dtype=bool)
    gone[face[old]] = False
    new = np.flatnonzero(~old)
    middles = drilled.vertices[drilled.faces[new]].mean(axis=1)
    pieces = _lying_on(middles, part.vertices[part.faces[gone]])
    is_piece = pieces >= 0
    out[new[is_piece]] = group[np.flatnonzero(gone)[pieces[is_piece]]]
    return out


def _names(rows: FloatArray | NDArray[np.int64]) -> NDArray[np.uint64]:
    """A 64-bit name of each row of three: equal rows have equal names, others practically never."""
    bits = np.ascontiguousarray(rows + 0).view(np.uint64).reshape(len(rows), 3)
    name = np.zeros(len(rows), dtype=np.uint64)
    for k in range(3):
        # Mixing steps of splitmix64 (Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators").
        name = (name ^ bits[:, k]) + np.uint64(0x9E3779B97F4A7C15)
        name = (name ^ (name >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        name = (name ^ (name >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return name


def _found(wanted: NDArray[np.uint64], among: NDArray[np.uint64]) -> NDArray[np.int64]:
    """Place of each name among others, -1 where it is not."""
    if not len(among):
        return np.full(len(wanted), -1, dtype=np.int64)
    order = np.argsort(among)
    place = np.minimum(np.searchsorted(among[order], wanted), len(among) - 1)
    at = order[place]
    return np.where(among[at] == wanted, at, -1)


def _lying_on(points: FloatArray, triangles: FloatArray) -> NDArray[np.int64]:
    """(k,) number of the triangle of (t, 3, 3) that each of (k, 3) points lies on, -1 for none."""
    out = np.full(len(points), -1, dtype=np.int64)
    if not len(triangles) or not len(points):
        return out
    a = triangles[:, 0]
    normal = np.cross(triangles[:, 1] - a, triangles[:, 2] - a)
    length = np.linalg.norm(normal, axis=1)
    sound = length > 0
    a, normal, triangles = a[sound], normal[sound] / length[sound, None], triangles[sound]
    numbers = np.flatnonzero(sound)
    if not len(numbers):
        return out
    low, high = triangles.min(axis=1) - _ON_FACE_MM, triangles.max(axis=1) + _ON_FACE_MM
    # Holes are small: points side by side along the longest way have few triangles near them.
    order = np.argsort(points[:, int(np.ptp(points, axis=0).argmax())], kind="stable")
    for start in range(0, len(points), _POINTS_AT_ONCE):
        chosen = order[start : start + _POINTS_AT_ONCE]
        p = points[chosen]
        near = np.flatnonzero(((low <= p.max(axis=0)) & (high >= p.min(axis=0))).all(axis=1))
        if len(near):
            best, off = _nearest_of(p, triangles[near], a[near], normal[near])
            on_it = off < _ON_FACE_MM
            out[chosen[on_it]] = numbers[near[best[on_it]]]
    return out


def _nearest_of(
    p: FloatArray, triangles: FloatArray, a: FloatArray, normal: FloatArray
) -> tuple[NDArray[np.int64], FloatArray]:
    """The triangle that each point is least off, and by how many mm: from its plane, or beyond one of its edges."""
    off = np.abs(p @ normal.T - np.einsum("ij,ij->i", a, normal))
    for k in range(3):
        edge = triangles[:, (k + 1) % 3] - triangles[:, k]
        inward = np.cross(normal, edge)
        inward /= np.maximum(np.linalg.norm(inward, axis=1), 1e-300)[:, None]
        outside = np.einsum("ij,ij->i", triangles[:, k], inward) - p @ inward.T
        off = np.maximum(off, outside)
    best = off.argmin(axis=1)
    return best, off[np.arange(len(p)), best]
