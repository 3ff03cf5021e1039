"""Vertices at the precision of a file, so that the mesh that is read back is the mesh that was written.

A reader joins vertices of equal coordinates. Where a cut left vertices closer together than the file can tell apart,
they would come back as one: faces there lose their area, or two skins that only come close are sewn together.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import DrillError
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.weld import weld_points

BoolArray = NDArray[np.bool_]
Ring = dict[int, set[int]]

_TRIES = 64


def as_in_file(points: FloatArray, mm_per_unit: float, single: bool) -> FloatArray:
    """The (n, 3) points in mm as they come back from a file in that unit, with float32 or float64 coordinates."""
    in_file = points / mm_per_unit
    if single:
        in_file = in_file.astype(np.float32).astype(np.float64)
    return in_file * mm_per_unit + 0.0


def settle(
    vertices: FloatArray, faces: IntArray, first_new: int, mm_per_unit: float = 1.0, single: bool = True
) -> tuple[FloatArray, IntArray, BoolArray]:
    """Bring the vertices from `first_new` on to the precision of the file and keep all vertices distinct.

    Where two vertices fall together, the edge between them is collapsed if that leaves a surface (link condition:
    their common neighbours are just the two tips of the faces at the edge; Dey et al. 1999, "Topology preserving
    edge contraction", theorem 2 for surfaces). Otherwise the newer vertex moves to the nearest free place, a few
    units in the last place away. Both keep every edge at two faces, and vertices before `first_new` never move.

    vertices: (n, 3) float64 mm; faces: (m, 3) int32. Returns the vertices (n', 3), the faces (m', 3), and (m,) bool of
    the faces that stay. Raises DrillError if no free place is found.
    """
    placed = vertices.copy()
    placed[first_new:] = as_in_file(vertices[first_new:], mm_per_unit, single)
    _, place = weld_points(placed)
    crowd = np.bincount(place)[place] > 1
    stays = np.ones(len(faces), dtype=bool)
    if not crowd.any():
        return placed, faces, stays
    faces = faces.copy()
    local = np.flatnonzero(crowd[faces].any(axis=1))
    taken = {tuple(point) for point in placed[np.unique(faces[local])].tolist()}
    crowded = np.flatnonzero(crowd)
    order = crowded[np.lexsort((crowded, place[crowded]))]
    first = int(order[0])
    for vertex in order.tolist()[1:]:
        if place[vertex] != place[first]:
            first = vertex
        elif vertex >= first_new and not _collapse(faces, local, stays, first, vertex):
            placed[vertex] = _free_place(placed[vertex], taken, mm_per_unit, single)
    used = np.zeros(len(placed), dtype=bool)
    used[:first_new] = True
    used[faces[stays]] = True
    index = np.cumsum(used, dtype=np.int32) - 1
    return placed[used], index[faces[stays]], stays


def _collapse(faces: IntArray, local: NDArray[np.int64], stays: BoolArray, keep: int, drop: int) -> bool:
    """Let `drop` become `keep` in `faces` if they share an edge that may be collapsed; whether they did."""
    here = local[stays[local]]
    near = faces[here]
    at_keep, at_drop = (near == keep).any(axis=1), (near == drop).any(axis=1)
    both = at_keep & at_drop
    if np.count_nonzero(both) != 2:
        return False
    ends = (keep, drop)
    common = set(near[at_keep].ravel().tolist()) & set(near[at_drop].ravel().tolist())
    tips = set(near[both].ravel().tolist()).difference(ends)
    if len(tips) != 2 or common.difference(ends) != tips:
        return False
    # A tetrahedron would become two faces back to back.
    if np.count_nonzero(at_keep) == 3 and np.count_nonzero(at_drop) == 3:
        return False
    stays[here[both]] = False
    rows = here[at_drop & ~both]
    faces[rows] = np.where(faces[rows] == drop, keep, faces[rows])
    return True


def _free_place(point: FloatArray, taken: set[tuple[float, ...]], mm_per_unit: float, single: bool) -> FloatArray:
    """The nearest place at the file's precision that no vertex has; it is marked as taken."""
    kind = np.float32 if single else np.float64
    in_file = (point / mm_per_unit).astype(kind)
    # Near zero a unit in the last place is next to nothing; the largest coordinates give steps that count.
    axes = np.argsort(-np.abs(in_file), kind="stable")
    step = np.spacing(np.abs(in_file[axes[0]]))
    for tries in range(1, _TRIES):
        for axis in axes:
            for sign in (1, -1):
                moved = in_file.copy()
                moved[axis] += kind(sign * tries) * step
                candidate = moved.astype(np.float64) * mm_per_unit + 0.0
                if tuple(candidate.tolist()) not in taken:
                    taken.add(tuple(candidate.tolist()))
                    return candidate
    at = ", ".join(f"{x:.4g}" for x in point)
    raise DrillError(f"The drilled edge at ({at}) mm is finer than the file can hold.", "Move that vent a little.")
