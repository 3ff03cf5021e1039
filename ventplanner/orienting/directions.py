"""Directions to the plate: all over the sphere, round good ones, and those in which a part can stand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from ventplanner.geometry.rays import square_to
from ventplanner.geometry.solid import FloatArray, IntArray

AROUND = 6
"""Directions round a good one, all at the same angle."""

FLAT_DEG = 0.5
"""Faces whose normals differ by less are one flat place."""

FLAT_MM = 0.05
"""What lies so near to the plate rests on it: a layer."""

LEAST_FACE_MM2 = 10.0
"""A part does not rest on less (own judgement)."""

STEADY_DEG = 5.0
"""A part that falls over when it is tilted by less does not stand (own judgement)."""

AXES = np.concatenate((np.eye(3), -np.eye(3)))
"""Parts are drawn along them, so these directions are looked at exactly."""

MOST_FACES = 12


def all_over(count: int) -> FloatArray:
    """(count, 3) unit vectors spread evenly over the sphere: the spiral of Fibonacci (Gonzalez 2010, Math. Geosci. 42,
    49, equations 1 and 2)."""
    k = np.arange(count)
    z = 1.0 - (2.0 * k + 1.0) / count
    angle = k * np.pi * (3.0 - np.sqrt(5.0))
    flat = np.sqrt(1.0 - z * z)
    return np.stack((flat * np.cos(angle), flat * np.sin(angle), z), axis=1)


def spacing_deg(count: int) -> float:
    """About the angle between neighbours of `all_over`: of hexagons of equal area."""
    return float(np.degrees(np.sqrt(8.0 * np.pi / (np.sqrt(3.0) * count))))


def around(directions: FloatArray, angle_deg: float) -> FloatArray:
    """(n * AROUND, 3) unit vectors at an angle round each of (n, 3)."""
    turn = np.arange(AROUND) * (2.0 * np.pi / AROUND)
    found = []
    for one in directions:
        across = square_to(one)
        ring = np.cos(turn)[:, None] * across[0] + np.sin(turn)[:, None] * across[1]
        found.append(np.cos(np.radians(angle_deg)) * one + np.sin(np.radians(angle_deg)) * ring)
    return np.concatenate(found) if found else np.zeros((0, 3))


@dataclass(frozen=True)
class Rest:
    """A flat place that a part can stand on. to_plate: unit, in the axes of the vertices. area: mm2 of its faces."""

    to_plate: tuple[float, float, float]
    area: float


def rests(vertices: FloatArray, faces: IntArray, middle: FloatArray) -> tuple[Rest, ...]:
    """The flat places that a part can stand on without falling over, largest first.

    They are faces of the part in a facet of its convex hull, and the centre of mass `middle` (3,) stands well over
    the facet. vertices: (n, 3) mm; faces: (m, 3)."""
    try:
        hull = ConvexHull(vertices)
    except QhullError:
        return ()
    corners, size = vertices[hull.vertices], _areas(vertices[hull.simplices])
    left, found, equal = np.ones(len(size), dtype=bool), [], np.cos(np.radians(FLAT_DEG))
    for k in np.argsort(-size, kind="stable"):
        plane = hull.equations[k, :3]
        if not left[k]:
            continue
        alike = hull.equations[:, :3] @ plane > equal
        left &= ~alike
        level = float((corners @ plane).max()) - FLAT_MM
        if size[alike].sum() < LEAST_FACE_MM2 or not _stands(corners[corners @ plane > level], plane, middle):
            continue
        own = vertices[faces[(vertices @ plane > level)[faces].all(axis=1)]]
        area = float(_areas(own)[_normals(own) @ plane > equal].sum())
        if area >= LEAST_FACE_MM2:
            x, y, z = (plane / np.linalg.norm(plane)).tolist()
            found.append(Rest((x, y, z), area))
    return tuple(sorted(found, key=lambda r: (-round(r.area, 3), *np.round(r.to_plate, 6).tolist()))[:MOST_FACES])


def _normals(triangles: FloatArray) -> FloatArray:
    """(m, 3) unit normals of (m, 3, 3); 0 where there is no area."""
    cross = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return np.asarray(cross / np.maximum(np.linalg.norm(cross, axis=1), 1e-300)[:, None])


def _areas(triangles: FloatArray) -> FloatArray:
    """(m,) mm2 of (m, 3, 3)."""
    cross = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return np.asarray(0.5 * np.linalg.norm(cross, axis=1))


def _stands(corners: FloatArray, down: FloatArray, middle: FloatArray) -> bool:
    """Whether a centre of mass is over the convex hull of corners in a plane, and stays so if all is tilted a bit."""
    flat = (corners - middle) @ square_to(down).T
    height = float((corners[0] - middle) @ down)
    try:
        return bool((ConvexHull(flat).equations[:, 2] < -height * np.tan(np.radians(STEADY_DEG))).all())
    except QhullError:
        return False
