"""A skin that goes through itself, or a piece of it, drawn anew: columns tell its inside, distance where that ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.columns import Grid, Runs, cast_window
from ventplanner.geometry.material import material_at_nodes, material_runs
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.mending.drawing import brought_to, coarsened, drawn, farthest, nearest_on
from ventplanner.mending.model import LongArray
from ventplanner.mending.sheets import Sheets

MOST_NODES = 12_000_000

_EDGE_SHARE, _BOX_SHARE = 0.25, 1.0 / 120.0
"""Spacing of the grid: this share of the usual edge, or of the diagonal of what is drawn, whichever is less."""

_REACH = 1.5
_MARGIN = 3


@dataclass(frozen=True, eq=False)
class Redrawn:
    """vertices, faces: closed, outward. off_mm: the largest distance between old and new, both ways, measured at
    corners and middles of faces. volume_mm3: what was gained, by the same columns."""

    vertices: FloatArray
    faces: IntArray
    off_mm: float
    volume_mm3: float


def redrawn(vertices: FloatArray, faces: IntArray, sheets: Sheets, box: FloatArray) -> Redrawn | None:
    """What an outward skin winds around at least once, within a box ((2, 3) mm); None if nothing is.

    Where the skin is turned inside out it encloses nothing. Points of the new skin lie on the old one. Marching cubes
    on the signed distance (`geometry.contour`), its sign from columns where the winding number is positive.
    """
    near = _near(vertices, faces, box)
    step = _step(vertices, faces[near], box)
    runs, heights = _columns(vertices, faces, box, step)
    soup = sheets.soup(vertices, faces, near, 0.5 * step)
    if not len(soup):
        return None
    sheet = nearest_on(soup)
    inside = material_at_nodes(runs, heights[0], step, int(heights[1]))
    origin = np.array([runs.grid.x0 + 0.5 * step, runs.grid.y0 + 0.5 * step, heights[0]])
    values = sheet.offset(0.0, origin, step, inside)
    points, made = drawn(values, origin, step)
    del values
    if not len(made):
        return None
    points, made = coarsened(brought_to(points, made, sheet, _REACH * step), made, step)
    off = farthest(points, made, soup, sheet, box)
    gained = _material(_cast(points, made, runs.grid), box) - _material(runs, box)
    return Redrawn(points, made, off, gained)


def _near(vertices: FloatArray, faces: IntArray, box: FloatArray) -> LongArray:
    met = np.ones(len(faces), bool)
    margin = 0.05 * float(np.linalg.norm(box[1] - box[0]))
    for k in range(3):
        a, b, c = vertices[faces, k].T
        met &= np.minimum(np.minimum(a, b), c) <= box[1, k] + margin
        met &= np.maximum(np.maximum(a, b), c) >= box[0, k] - margin
    return np.flatnonzero(met)


def _step(vertices: FloatArray, faces: IntArray, box: FloatArray) -> float:
    """mm between nodes: as fine as the faces ask for, as coarse as their number has to be."""
    edge = float(np.median(np.linalg.norm(vertices[faces[:, 0]] - vertices[faces[:, 1]], axis=1)))
    size = box[1] - box[0]
    wanted = min(_EDGE_SHARE * edge, _BOX_SHARE * float(np.linalg.norm(size)))
    least = float((size.prod() / MOST_NODES) ** (1.0 / 3.0))
    return max(wanted, least)


def _columns(
    vertices: FloatArray, faces: IntArray, box: FloatArray, step: float
) -> tuple[Runs, tuple[float, int]]:  # fmt: skip
    """Columns over the box and a margin; and the first height of the nodes with their number."""
    size = np.ceil((box[1] - box[0]) / step).astype(int) + 2 * _MARGIN
    first = box[0] - _MARGIN * step
    grid = Grid(float(first[0]), float(first[1]), step, int(size[0]), int(size[1]))
    return _cast(vertices, faces, grid), (float(first[2]), int(size[2]) + 1)


def _cast(vertices: FloatArray, faces: IntArray, grid: Grid) -> Runs:
    window = (0, grid.nx, 0, grid.ny)
    return cast_window(vertices, faces, np.zeros(len(faces), np.int32), grid, window, tight=False)


def _material(runs: Runs, box: FloatArray) -> float:
    """mm3 of material in a box."""
    solid = material_runs(runs)
    x, y = runs.grid.centres(solid.column_of_run)
    low, high = np.maximum(solid.z0, box[0, 2]), np.minimum(solid.z1, box[1, 2])
    inside = (x >= box[0, 0]) & (x <= box[1, 0]) & (y >= box[0, 1]) & (y <= box[1, 1])
    return float(np.maximum(high - low, 0.0)[inside].sum() * runs.pixel_area)
