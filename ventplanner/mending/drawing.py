"""A surface from values on a grid, as a sound skin: without specks, on the old skin where that is near, and not finer
than it has to be."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import DrillError
from ventplanner.geometry.boolean import simplified
from ventplanner.geometry.closest import Nearest
from ventplanner.geometry.contour import surface
from ventplanner.geometry.crossings import crossings
from ventplanner.geometry.precision import as_in_file, settle
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import topology
from ventplanner.mending.model import HAIR_MM, Flags

SPECK_CELLS = 8.0
"""A body or hollow below the volume of so many cells of the grid is an error of the drawing."""

_CLEAR = 0.05
_FLAT_SHARE = 0.02
_ROUNDS = 4
_ASKED = 200_000


def drawn(values: NDArray[np.float32], origin: FloatArray, step: float) -> tuple[FloatArray, IntArray]:
    """Vertices and outward faces of what is positive; `values` (nz, ny, nx) is changed at its rim and near 0."""
    for axis in range(3):
        np.moveaxis(values, axis, 0)[[0, -1]] = -2.0 * step
    # Nodes that all but lie on the surface would give a knot of vertices there.
    least = np.float32(_CLEAR * step)
    near_it = np.abs(values) < least
    values[near_it] = np.where(values[near_it] > 0.0, least, -least)
    points, faces = surface(values, origin, step)
    faces = _without_specks(points, np.ascontiguousarray(faces[:, ::-1]), SPECK_CELLS * step**3)
    used, index = np.unique(faces, return_inverse=True)
    return points[used], index.reshape(-1, 3).astype(np.int32)


def _without_specks(points: FloatArray, faces: IntArray, least: float) -> IntArray:
    """Without skins that enclose less than a volume, in whatever direction."""
    if not len(faces):
        return faces
    found = topology(Solid(points, faces))
    kept = np.abs(found.volume_of_skin) >= least
    return faces if kept.all() else np.ascontiguousarray(faces[kept[found.skin_of_face]])


def nearest_on(soup: FloatArray) -> Nearest:
    """To look for nearest points on (k, 3, 3) triangles, each by itself."""
    return Nearest.of(soup.reshape(-1, 3), np.arange(3 * len(soup), dtype=np.int32).reshape(-1, 3))


def brought_to(points: FloatArray, faces: IntArray, sheet: Nearest, reach: float) -> FloatArray:
    """Vertices at their nearest place on the old skin, but for those farther than `reach` from it, and those whose
    faces would then go through each other.

    All at single precision, as in most files.
    """
    points = as_in_file(points, 1.0, True)
    away, feet = sheet.points(points, reach)
    placed = as_in_file(np.where((away < reach)[:, None], feet, points), 1.0, True)
    for _ in range(_ROUNDS):
        pairs = crossings(placed, faces)
        if not len(pairs):
            return placed
        back = np.zeros(len(points), bool)
        back[faces[pairs]] = True
        back[faces[back[faces].any(axis=1)]] = True
        placed[back] = points[back]
    return points


def coarsened(points: FloatArray, faces: IntArray, step: float) -> tuple[FloatArray, IntArray]:
    """With large faces where it is flat as measured by the step of the grid; as it is where faces would then cross."""
    few = simplified((points, faces), _FLAT_SHARE * step)
    return (points, faces) if len(crossings(*few, HAIR_MM)) else few


def farthest(points: FloatArray, faces: IntArray, soup: FloatArray, sheet: Nearest, box: FloatArray) -> float:
    """The largest distance in a box between two surfaces, at corners and middles of their faces, both ways."""
    asked = ((points, points[faces].mean(axis=1), sheet), (soup.reshape(-1, 3), soup.mean(axis=1), None))
    largest = 0.0
    for corners, middles, other in asked:
        inside = np.concatenate((corners, middles))
        inside = inside[((inside >= box[0]) & (inside <= box[1])).all(axis=1)]
        if len(inside):
            some = np.ascontiguousarray(inside[:: 1 + len(inside) // _ASKED])
            away, _ = (other or Nearest.of(points, faces)).points(some)
            largest = max(largest, float(away.max()))
    return largest


def sound(vertices: FloatArray, faces: IntArray, old: FloatArray) -> tuple[FloatArray, IntArray] | None:
    """A mesh with vertices that a file can tell apart, the old ones as they are; None if it is not closed or crosses
    itself."""
    is_new = ~_among(vertices, old)
    order = np.argsort(is_new, kind="stable")
    number = np.empty(len(order), np.int32)
    number[order] = np.arange(len(order))
    try:
        vertices, faces, _ = settle(vertices[order], number[faces], int(np.count_nonzero(~is_new)))
    except DrillError:
        return None
    found = topology(Solid(vertices, faces))
    return None if not found.is_closed or len(crossings(vertices, faces, HAIR_MM)) else (vertices, faces)


def _among(points: FloatArray, others: FloatArray) -> Flags:
    """(n,) bool: which points are among others, to the last bit."""
    rows = np.concatenate((others, points)) + 0.0
    _, place = np.unique(np.ascontiguousarray(rows).view([("", rows.dtype)] * 3), return_inverse=True)
    known = np.zeros(len(rows), bool)
    known[place.ravel()[: len(others)]] = True
    return np.asarray(known[place.ravel()[len(others) :]])
