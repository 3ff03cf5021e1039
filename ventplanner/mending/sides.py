"""Which side of the pieces of a broken skin is outside: told by how many faces lie over either side of them."""

from __future__ import annotations

import numpy as np

from ventplanner.geometry.inside import crossings_above
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.mending.model import LongArray

_WAYS = 12
_MOST_OF_PIECE, _MOST_OF_ALL = 48, 120_000
_GRAZING = 0.2
"""A ray that leaves a face at a smaller sine than this says nothing of its sides."""


def votes(vertices: FloatArray, faces: IntArray, piece: LongArray, n: int) -> FloatArray:
    """(n,) from -1 to 1: how far rays agree that the normals of each piece point away from material.

    piece: (m,) number of the piece of each face. From outside, a ray meets an even number of faces, from material an
    odd one; a gap makes single rays wrong, so many are asked (Takayama et al. 2014, "A simple method for correcting
    facet orientations in polygon meshes based on ray casting").
    """
    asked = some_of_each(piece, n, max(1, min(_MOST_OF_PIECE, _MOST_OF_ALL // n)))
    middles = vertices[faces[asked]].mean(axis=1)
    normal = np.cross(vertices[faces[asked, 1]] - vertices[faces[asked, 0]],
                      vertices[faces[asked, 2]] - vertices[faces[asked, 0]])  # fmt: skip
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), np.finfo(float).tiny)
    total, count = np.zeros(n), np.zeros(n)
    for frame in _frames():
        turned = Solid(vertices @ frame.T, faces)
        odd = crossings_above(turned, middles @ frame.T, asked.astype(np.int32)) % 2 == 1
        rise = normal @ frame[2]
        clear = np.abs(rise) > _GRAZING
        says = np.where((rise > 0) != odd, 1.0, -1.0)
        total += np.bincount(piece[asked], says * clear, n)
        count += np.bincount(piece[asked], clear, n)
    shares: FloatArray = total / np.maximum(count, 1.0)
    return shares


def some_of_each(group: LongArray | IntArray, n: int, most: int) -> LongArray:
    """Numbers of at most so many members of each of n groups, evenly among them, group by group. group: (m,) that of
    each member."""
    order = np.argsort(group, kind="stable")
    count = np.bincount(group, minlength=n)
    first = np.cumsum(count) - count
    some = np.minimum(count, most)
    which = np.repeat(np.arange(n), some)
    step = np.arange(len(which)) - np.repeat(np.cumsum(some) - some, some)
    return np.asarray(order[first[which] + step * count[which] // some[which]])


def _frames() -> list[FloatArray]:
    """Square frames (axes in rows) whose third axes are spread over all directions, the same in every run."""
    rng = np.random.default_rng(20)
    found = []
    for k in range(_WAYS):
        # Evenly over the sphere (a Fibonacci lattice), and turned at random about that.
        z = 1.0 - (2.0 * k + 1.0) / _WAYS
        angle = np.pi * (1.0 + np.sqrt(5.0)) * k
        ring = np.sqrt(1.0 - z * z)
        helper = rng.normal(size=(3, 2))
        base = np.column_stack([[ring * np.cos(angle), ring * np.sin(angle), z], helper])
        q, _ = np.linalg.qr(base)
        q[:, 0] *= np.sign(q[:, 0] @ base[:, 0])
        found.append(np.ascontiguousarray(q[:, [1, 2, 0]].T))
    return found
