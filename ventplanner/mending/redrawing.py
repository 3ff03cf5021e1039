"""A skin that goes through itself, or a piece of it, drawn anew: columns tell its inside, distance where that ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.closest import Nearest
from ventplanner.geometry.columns import Grid, Runs, cast_window
from ventplanner.geometry.contour import surface
from ventplanner.geometry.crossings import crossings
from ventplanner.geometry.material import material_at_nodes, material_runs
from ventplanner.geometry.precision import as_in_file
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import topology
from ventplanner.mending.model import LongArray
from ventplanner.mending.sheets import Sheets

MOST_NODES = 12_000_000

SPECK_CELLS = 8.0
"""A body or hollow below the volume of so many cells of the grid is an error of the drawing."""

_EDGE_SHARE, _BOX_SHARE = 0.25, 1.0 / 120.0
"""Spacing of the grid: this share of the usual edge, or of the diagonal of what is drawn, whichever is less."""

_CLEAR = 0.05
_REACH = 1.5
_ROUNDS = 4
_MARGIN = 3
_ASKED = 200_000


@dataclass(frozen=True, eq=False)
class Redrawn:
    """vertices, faces: closed, outward. grid_mm: spacing of the grid. off_mm: the largest distance between old and new,
    both ways, measured at corners and middles of faces. volume_mm3: what was gained, by the same columns."""

    vertices: FloatArray
    faces: IntArray
    grid_mm: float
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
    sheet = Nearest.of(soup.reshape(-1, 3), np.arange(3 * len(soup), dtype=np.int32).reshape(-1, 3))
    inside = material_at_nodes(runs, heights[0], step, int(heights[1]))
    origin = np.array([runs.grid.x0 + 0.5 * step, runs.grid.y0 + 0.5 * step, heights[0]])
    values = sheet.offset(0.0, origin, step, inside)
    for axis in range(3):
        np.moveaxis(values, axis, 0)[[0, -1]] = -2.0 * step
    # Nodes that all but lie on the surface would give a knot of vertices there.
    least = np.float32(_CLEAR * step)
    near_it = np.abs(values) < least
    values[near_it] = np.where(values[near_it] > 0.0, least, -least)
    points, drawn = surface(values, origin, step)
    del values
    drawn = _without_specks(points, np.ascontiguousarray(drawn[:, ::-1]), SPECK_CELLS * step**3)
    if not len(drawn):
        return None
    used, index = np.unique(drawn, return_inverse=True)
    points, drawn = points[used], index.reshape(-1, 3).astype(np.int32)
    points = _brought_to(points, drawn, sheet, step)
    off = _off(points, drawn, soup, sheet, box)
    gained = _material(_cast(points, drawn, runs.grid), box) - _material(runs, box)
    return Redrawn(points, drawn, step, off, gained)


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


def _without_specks(points: FloatArray, faces: IntArray, least: float) -> IntArray:
    """Without skins that enclose less than a volume, in whatever direction."""
    found = topology(Solid(points, faces))
    kept = np.abs(found.volume_of_skin) >= least
    return faces if kept.all() else np.ascontiguousarray(faces[kept[found.skin_of_face]])


def _brought_to(points: FloatArray, faces: IntArray, sheet: Nearest, step: float) -> FloatArray:
    """Vertices at their nearest place on the old skin, but for those whose faces would then go through each other.

    All at single precision, as in most files.
    """
    points = as_in_file(points, 1.0, True)
    away, feet = sheet.points(points, _REACH * step)
    placed = as_in_file(np.where((away < _REACH * step)[:, None], feet, points), 1.0, True)
    for _ in range(_ROUNDS):
        pairs = crossings(placed, faces)
        if not len(pairs):
            return placed
        back = np.zeros(len(points), bool)
        back[faces[pairs]] = True
        back[faces[back[faces].any(axis=1)]] = True
        placed[back] = points[back]
    return points


def _off(points: FloatArray, faces: IntArray, soup: FloatArray, sheet: Nearest, box: FloatArray) -> float:
    """The largest distance in a box between two surfaces at corners and middles of their faces."""
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


def _material(runs: Runs, box: FloatArray) -> float:
    """mm3 of material in a box."""
    solid = material_runs(runs)
    x, y = runs.grid.centres(solid.column_of_run)
    low, high = np.maximum(solid.z0, box[0, 2]), np.minimum(solid.z1, box[1, 2])
    inside = (x >= box[0, 0]) & (x <= box[1, 0]) & (y >= box[0, 1]) & (y <= box[1, 1])
    return float(np.maximum(high - low, 0.0)[inside].sum() * runs.pixel_area)
