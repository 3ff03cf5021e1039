"""Straight lines through a part: the stretches of material along a bundle of parallel rays, exactly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.ray_kernels import BLOCK, bound_blocks, faces_near, line_crossings
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.spatial_order import ordered


def square_to(direction: FloatArray) -> FloatArray:
    """(2, 3) unit vectors that make a right-handed frame with a unit direction; stable and deterministic."""
    along: list[float] = np.asarray(
        direction
    ).tolist()  # plain numbers: a product of two arrays of three costs far more
    helper = [0.0, 0.0, 0.0]
    helper[min(range(3), key=lambda k: abs(along[k]))] = 1.0
    first = np.array(_cross(along, helper))
    first /= np.linalg.norm(first)
    return np.array([first, _cross(along, first.tolist())])


def _cross(a: list[float], b: list[float]) -> list[float]:
    return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]


def point_on(origin: FloatArray, direction: FloatArray, offset: FloatArray, along: float) -> FloatArray:
    """(3,) the point `along` mm from the origin plane on the ray with this (2,) offset, see `material_along`."""
    return np.asarray(origin + offset @ square_to(direction) + along * direction)


@dataclass(frozen=True, eq=False)
class Stretches:
    """Stretches of material along each ray: begin, end (mm from the origin plane), ray number; sorted by ray, begin.

    face_in, face_out: the faces at which each stretch begins and ends.
    """

    ray: IntArray
    begin: FloatArray
    end: FloatArray
    face_in: IntArray
    face_out: IntArray

    def of(self, ray: int) -> list[tuple[float, float]]:
        """(begin, end) of one ray."""
        mine = self.ray == ray
        return list(zip(self.begin[mine].tolist(), self.end[mine].tolist(), strict=True))


@dataclass(frozen=True, eq=False)
class Target:
    """A mesh made ready for many bundles of rays.

    vertices: (n, 3) mm. faces: (m, 3) in spatial order, so that a ray meets few blocks of them. number: (m,) the
    number of each in the mesh as given; only these are told. bounds: boxes of the blocks of faces.
    """

    vertices: FloatArray
    faces: IntArray
    number: IntArray
    bounds: FloatArray

    @classmethod
    def of(cls, vertices: FloatArray, faces: IntArray) -> Target:
        """Order the faces, and bound blocks of them."""
        return cls.bounding(vertices, *ordered(vertices, faces))

    @classmethod
    def bounding(cls, vertices: FloatArray, faces: IntArray, number: IntArray) -> Target:
        """Bound blocks of faces that are in order already, of another pose of the part for one."""
        bounds = np.empty((-(-len(faces) // BLOCK), 6))
        bound_blocks(vertices, faces, bounds)
        return cls(vertices, faces, number, bounds)

    def near(self, low: FloatArray, high: FloatArray) -> IntArray:
        """Numbers of the faces whose boxes meet the box from low to high (3,), ascending."""
        return np.sort(self.number[self._near(low, high)])

    def corners_near(self, low: FloatArray, high: FloatArray) -> FloatArray:
        """(k, 3, 3) corners of the same faces, in the same order."""
        index = self._near(low, high)
        return np.ascontiguousarray(self.vertices[self.faces[index[np.argsort(self.number[index])]]])

    def _near(self, low: FloatArray, high: FloatArray) -> NDArray[np.int64]:
        room = 1024
        while True:
            found = np.empty(room, dtype=np.int64)
            n = faces_near(self.vertices, self.faces, self.bounds, _corner(low), _corner(high), found)
            if n <= room:
                return found[:n]
            room = n


def _corner(point: FloatArray) -> FloatArray:
    return np.ascontiguousarray(point, dtype=np.float64)


def material_along(target: Target, origin: FloatArray, direction: FloatArray, offsets: FloatArray) -> Stretches:
    """Where parallel rays run through material (winding number > 0), from the crossings of the whole mesh.

    origin: (3,) mm. direction: (3,) unit. offsets: (k, 2) mm, where each ray passes the origin plane in the frame
    `square_to(direction)`. A ray whose crossings do not balance (it meets an edge) is looked at again a hair aside.
    """
    frame = np.vstack((square_to(direction), direction))
    # A ray that runs along an edge crosses neither of its faces: a hair beside, it crosses one. Constructed parts have
    # edges in round places, so every ray keeps that hair's distance.
    offsets = offsets + np.asarray(_HAIR)
    crossings = _crossings(target, origin, frame, offsets)
    for aside in _ASIDE:
        total = np.bincount(crossings[0], weights=crossings[2], minlength=len(offsets))
        unbalanced = np.flatnonzero(total != 0)
        if not len(unbalanced):
            break
        again = _crossings(target, origin, frame, offsets[unbalanced] + np.asarray(aside))
        sound = ~np.isin(crossings[0], unbalanced)
        again = (unbalanced[again[0]].astype(np.int32), *again[1:])
        crossings = tuple(np.concatenate((c[sound], more)) for c, more in zip(crossings, again, strict=True))
    return _stretches(*crossings)


_HAIR = (1.37e-6, 0.83e-6)
_ASIDE = ((3.1e-5, 1.7e-5), (-2.3e-5, 4.1e-5), (1.9e-4, -2.7e-4))
_Crossings = tuple[NDArray[Any], ...]


def _crossings(target: Target, origin: FloatArray, frame: FloatArray, offsets: FloatArray) -> _Crossings:
    """Ray, place along it, step and face of every crossing."""
    room = 64 * len(offsets)
    while True:
        ray, step, face = (np.empty(room, dtype=np.int32) for _ in range(3))
        along = np.empty(room)
        n = line_crossings(target.vertices, target.faces, target.bounds, origin, frame, offsets, ray, along, step, face)
        if n <= room:
            return ray[:n], along[:n], step[:n], target.number[face[:n]]
        room = n


def _stretches(ray: NDArray[Any], along: NDArray[Any], step: NDArray[Any], face: NDArray[Any]) -> Stretches:
    order = np.lexsort((-step, along, ray))
    ray, along, step, face = ray[order], along[order], step[order], face[order]
    first = np.flatnonzero(np.diff(ray, prepend=-1))
    summed = np.cumsum(step)
    # The winding number starts at 0 on each ray.
    before = np.repeat(summed[first] - step[first], np.diff(first, append=len(ray)))
    winding = summed - before
    begins, stops = (winding > 0) & (winding - step <= 0), (winding <= 0) & (winding - step > 0)
    return _paired(ray, along, face, begins, stops)


def _paired(
    ray: NDArray[Any], along: NDArray[Any], face: NDArray[Any], begins: NDArray[Any], stops: NDArray[Any]
) -> Stretches:
    """Each beginning with the stop after it; on a ray that does not balance, what has no partner is left out."""
    index = np.flatnonzero(begins | stops)
    is_begin = begins[index]
    pair = np.flatnonzero(is_begin[:-1] & ~is_begin[1:] & (ray[index[:-1]] == ray[index[1:]]))
    a, b = index[pair], index[pair + 1]
    return Stretches(ray[a], along[a], along[b], face[a], face[b])


def first_hits(corners: FloatArray, origin: FloatArray, directions: FloatArray) -> IntArray:
    """(k,) number of the nearest of (t, 3, 3) triangles along each of (k, 3) rays from one point, -1 for none."""
    if not len(corners):
        return np.full(len(directions), -1, dtype=np.int32)
    along, _ = _met(corners, origin, directions)
    nearest = np.argmin(along, axis=1)
    return np.where(np.isfinite(along.min(axis=1)), nearest, -1).astype(np.int32)


def leaves(corners: FloatArray, origin: FloatArray, directions: FloatArray) -> FloatArray:
    """(k,) mm along each of (k, 3) rays from a point to the first of (t, 3, 3) triangles met from behind, or inf."""
    if not len(corners):
        return np.full(len(directions), np.inf)
    along, facing = _met(corners, origin, directions)
    return np.asarray(np.where(facing, along, np.inf).min(axis=1))


def _met(corners: FloatArray, origin: FloatArray, directions: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """(k, t) mm along each ray to each triangle, inf where it is not met; (k, t) bool: met from behind.

    Moller & Trumbore 1997, "Fast, minimum storage ray/triangle intersection", J. Graphics Tools 2(1).
    """
    ab, ac = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    away = origin - corners[:, 0]
    q = np.cross(away, ab)
    along = np.empty((len(directions), len(corners)))
    behind = np.empty(along.shape, dtype=np.bool_)
    x, y, z = np.ascontiguousarray(ac.T)
    for k, (u, v, w) in enumerate(directions.tolist()):
        direction, p = directions[k], np.stack((v * z - w * y, w * x - u * z, u * y - v * x), axis=1)
        facing = np.einsum("ij,ij->i", ab, p)
        # Edge on, the scale is taken as 0: t becomes 0, which is no hit.
        scale = np.where(facing != 0.0, 1.0 / np.where(facing != 0.0, facing, 1.0), 0.0)
        one, other = np.einsum("ij,ij->i", away, p) * scale, q @ direction * scale
        t = np.einsum("ij,ij->i", ac, q) * scale
        along[k] = np.where((one >= 0) & (other >= 0) & (one + other <= 1) & (t > 1e-9), t, np.inf)
        behind[k] = facing < 0
    return along, behind
