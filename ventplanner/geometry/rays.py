"""Straight lines through a part: the stretches of material along a bundle of parallel rays, exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.ray_kernels import faces_near_line
from ventplanner.geometry.solid import FloatArray, IntArray


def square_to(direction: FloatArray) -> FloatArray:
    """(2, 3) unit vectors that make a right-handed frame with a unit direction; stable and deterministic."""
    helper = np.zeros(3)
    helper[int(np.argmin(np.abs(direction)))] = 1.0
    first = np.cross(direction, helper)
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(direction, first)])


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


def material_along(
    vertices: FloatArray, faces: IntArray, origin: FloatArray, direction: FloatArray, offsets: FloatArray
) -> Stretches:
    """Where parallel rays run through material (winding number > 0), from the crossings of the whole mesh.

    origin: (3,) mm. direction: (3,) unit. offsets: (k, 2) mm, where each ray passes the origin plane in the frame
    `square_to(direction)`. A ray whose crossings do not balance (it meets an edge) is looked at again a hair aside.
    """
    across = square_to(direction)
    reach = float(np.abs(offsets).max(initial=0.0)) + 1e-3
    near = faces_near_line(vertices, faces, origin, across, reach)
    frame = np.vstack((across, direction))
    corners = (vertices[faces[near]] - origin) @ frame.T
    parts = [_one_ray(corners, near, offset) for offset in offsets]
    ray = np.repeat(np.arange(len(parts), dtype=np.int32), [len(p[0]) for p in parts])
    joined = [np.concatenate([p[k] for p in parts]) if parts else np.empty(0) for k in range(4)]
    return Stretches(ray, joined[0], joined[1], joined[2].astype(np.int32), joined[3].astype(np.int32))


_ASIDE = ((0.0, 0.0), (3.1e-5, 1.7e-5), (-2.3e-5, 4.1e-5), (1.9e-4, -2.7e-4))


def _one_ray(
    corners: FloatArray, names: FloatArray, offset: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    for aside in _ASIDE:
        a, b, c = (corners[:, k, :2] - (offset + np.asarray(aside)) for k in range(3))
        u = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
        v = c[:, 0] * a[:, 1] - c[:, 1] * a[:, 0]
        w = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        hit = np.flatnonzero(((u > 0) & (v > 0) & (w > 0)) | ((u < 0) & (v < 0) & (w < 0)))
        area = (u + v + w)[hit]
        t = (u[hit] * corners[hit, 0, 2] + v[hit] * corners[hit, 1, 2] + w[hit] * corners[hit, 2, 2]) / area
        step = np.where(area > 0, -1, 1)
        if step.sum() == 0:
            break
    order = np.lexsort((-step, t))
    t, step, face = t[order], step[order], names[hit[order]]
    winding = np.cumsum(step)
    begins, stops = (winding > 0) & (winding - step <= 0), (winding <= 0) & (winding - step > 0)
    count = min(int(begins.sum()), int(stops.sum()))
    return t[begins][:count], t[stops][:count], face[begins][:count], face[stops][:count]


def first_hits(corners: FloatArray, origin: FloatArray, directions: FloatArray) -> IntArray:
    """(k,) number of the nearest of (t, 3, 3) triangles along each of (k, 3) rays from one point, -1 for none.

    Moller & Trumbore 1997, "Fast, minimum storage ray/triangle intersection", J. Graphics Tools 2(1).
    """
    ab, ac = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    away = origin - corners[:, 0]
    q = np.cross(away, ab)
    hits = np.full(len(directions), -1, dtype=np.int32)
    for k, direction in enumerate(directions):
        p = np.cross(direction, ac)
        facing = np.einsum("ij,ij->i", ab, p)
        # Edge on, the scale is taken as 0: t becomes 0, which is no hit.
        scale = np.where(facing != 0.0, 1.0 / np.where(facing != 0.0, facing, 1.0), 0.0)
        u, v = np.einsum("ij,ij->i", away, p) * scale, q @ direction * scale
        t = np.einsum("ij,ij->i", ac, q) * scale
        t = np.where((u >= 0) & (v >= 0) & (u + v <= 1) & (t > 1e-9), t, np.inf)
        nearest = int(np.argmin(t)) if len(t) else -1
        hits[k] = nearest if nearest >= 0 and np.isfinite(t[nearest]) else -1
    return hits
