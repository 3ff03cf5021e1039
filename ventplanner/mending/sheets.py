"""Which faces of a skin that goes through itself bound what it encloses, and which only lie within."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.topology import half_edge_mates
from ventplanner.geometry.winding import winding_at
from ventplanner.mending.model import Flags, LongArray
from ventplanner.mending.sides import some_of_each

SAMPLES = 9
"""Faces of a patch that are asked on which side of it is what."""

MOST_PIECES = 1_500_000

_ASIDE_SHARE, _ASIDE_MM = 1e-3, 1e-4
"""A point beside a face is this share of its size away from it, at most so many mm."""


@dataclass(frozen=True, eq=False)
class Sheets:
    """crossed: (m,) bool, faces that go through others of the skin. bounds: (m,) bool, of the others those with nothing
    on their outer side, so that they bound what the skin encloses."""

    crossed: Flags
    bounds: Flags

    @classmethod
    def of(cls, vertices: FloatArray, faces: IntArray, pairs: LongArray) -> Sheets:
        """Of a closed skin (m faces) that points outward; pairs: (k, 2) faces that go through each other.

        The winding number is the same all along a patch of faces that nothing goes through, so a few of them tell it.
        """
        crossed = np.zeros(len(faces), bool)
        crossed[pairs] = True
        patch, n = _patches(faces, len(vertices), crossed)
        asked = some_of_each(patch, n, SAMPLES)
        around = winding_beside(vertices, faces, vertices[faces[asked]]) == 0
        bounding = 2 * np.bincount(patch[asked], around, n) > np.bincount(patch[asked], minlength=n)
        return cls(crossed, bounding[patch] & ~crossed)

    @property
    def bad(self) -> Flags:
        """(m,) bool: faces that go through others, and those that bound nothing."""
        return ~self.bounds

    def soup(self, vertices: FloatArray, faces: IntArray, near: LongArray, size: float) -> FloatArray:
        """(k, 3, 3) corners of what bounds: faces as they are, and pieces of those crossed, no longer than `size`.

        near: the faces that are wanted. A piece that lies on both sides of a crossing counts by its middle.
        """
        pieces = divided(vertices[faces[near[self.crossed[near]]]], size)
        pieces = pieces[winding_beside(vertices, faces, pieces) == 0]
        return np.concatenate((vertices[faces[near[self.bounds[near]]]], pieces))


def winding_beside(vertices: FloatArray, faces: IntArray, corners: FloatArray) -> LongArray:
    """(k,) the winding number of a mesh on the outer side of each of (k, 3, 3) triangles."""
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(normal, axis=1)
    aside = np.minimum(_ASIDE_SHARE * np.sqrt(twice), _ASIDE_MM)
    unit = normal / np.maximum(twice, np.finfo(float).tiny)[:, None]
    return winding_at(vertices, faces, corners.mean(axis=1) + aside[:, None] * unit)


def _patches(faces: IntArray, n_vertices: int, crossed: Flags) -> tuple[IntArray, int]:
    """A number for each face, equal where faces that are not crossed hang together across edges; and how many."""
    mate, _ = half_edge_mates(faces, n_vertices)
    half = np.flatnonzero(mate > np.arange(len(mate)))
    half = half[~crossed[half // 3] & ~crossed[mate[half] // 3]]
    links = (np.ones(len(half), np.int8), (half // 3, mate[half] // 3))
    n, patch = connected_components(coo_array(links, shape=(len(faces),) * 2), directed=False)
    return patch, int(n)


def divided(corners: FloatArray, size: float) -> FloatArray:
    """(k, 3, 3) triangles, halved across their longest edge until none is longer than `size`, or there are too many."""
    done: list[FloatArray] = []
    count = 0
    while len(corners):
        sides = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
        long = sides.max(axis=1) > size
        if count + len(corners) + int(long.sum()) > MOST_PIECES:
            long[:] = False
        done.append(corners[~long])
        count += len(done[-1])
        first = sides[long].argmax(axis=1)
        turned = np.take_along_axis(corners[long], (first[:, None] + np.arange(3))[:, :, None] % 3, axis=1)
        a, b, c = turned.transpose(1, 0, 2)
        middle = 0.5 * (a + b)
        corners = np.concatenate((np.stack((a, middle, c), axis=1), np.stack((middle, b, c), axis=1)))
    return np.concatenate(done) if done else np.empty((0, 3, 3))
