"""How fine the columns must be: the part's thinnest wall, and the pitch that still sees it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.columns import Grid, cast_crossings
from ventplanner.geometry.solid import FloatArray, IntArray, box_of

SAMPLES_PER_AXIS = 15_000
"""Columns cast along each axis to look for thin walls (own judgement)."""

COMFORTABLE_COLUMNS = 50_000
"""Columns of the pitch chosen where no wall asks for a finer one: the preview stays within a frame (own judgement)."""

MOST_COLUMNS = 3_000_000
"""No pitch is chosen that needs more columns (about 1 GB of memory, measured; the limit is own judgement)."""

MARGIN = 1.25
"""A wall is kept apart when it is at least this many pitches thick: at random angles a wall of 1.0 pitch holds,
one of 0.9 leaks in half of the cases (measured on random orientations of a box)."""

COARSEST_MM, FINEST_MM = 0.3, 0.02
"""Pitches chosen for their own sake lie between these (own judgement: a tenth of a usual vent, and a fine screen's
pixel)."""

THICKEST_WALL_MM = 10.0
"""What is thicker everywhere is massive: no word of walls (own judgement)."""

NOT_MEASURED = -1.0
"""For a wall that nobody has looked for yet."""

FIGURES_MM = np.round([m * s for s in (0.01, 0.1, 1.0) for m in (1.0, 1.25, 2.0, 2.5, 4.0, 5.0, 8.0)], 9)
"""Only pitches that can be typed again and that divide the round measures of constructed parts."""


@dataclass(frozen=True)
class Resolution:
    """The chosen pitch and why. `thinnest_wall_mm` is None when no wall was met; `sees_wall_mm` the thinnest wall
    that this pitch keeps apart for certain."""

    pitch_mm: float
    thinnest_wall_mm: float | None
    asked: bool

    @property
    def sees_wall_mm(self) -> float:
        """Walls of this thickness and more are kept apart."""
        return MARGIN * self.pitch_mm

    @property
    def sentence(self) -> str:
        """The assumption in words."""
        text = f"Columns every {self.pitch_mm:g} mm" + (" as asked" if self.asked else "")
        if self.thinnest_wall_mm is None:
            return f"{text}; no wall was measured, so walls under {self.sees_wall_mm:.2g} mm may be missed."
        if self.thinnest_wall_mm <= THICKEST_WALL_MM:
            text += f"; the thinnest wall met is about {self.thinnest_wall_mm:.2g} mm"
        if self.thinnest_wall_mm < self.sees_wall_mm:
            return f"{text}, which this pitch may miss: a thin wall can look open. Use a finer --pitch."
        return f"{text}; walls and gaps under {self.sees_wall_mm:.2g} mm may be missed."


def choose_pitch(
    vertices: FloatArray, faces: IntArray, asked_mm: float | None, wall: float | None = NOT_MEASURED
) -> Resolution:
    """Pitch from size and thinnest wall. vertices: (n, 3) build axes, mm. asked_mm: the user's pitch, kept as it is.
    wall: as `thinnest_wall` tells it, if that is known."""
    wall = thinnest_wall(vertices, faces) if wall == NOT_MEASURED else wall
    if asked_mm is not None:
        return Resolution(float(asked_mm), wall, True)
    low, high = box_of(vertices)
    span = high - low
    area = max(float(span[0] * span[1]), 1e-6)
    pitch = min(COARSEST_MM, float(np.sqrt(area / COMFORTABLE_COLUMNS)))
    if wall is not None:
        pitch = min(pitch, wall / MARGIN)
    next_up = int(np.searchsorted(FIGURES_MM, max(pitch, FINEST_MM) + 1e-9, side="right"))
    return Resolution(affordable(vertices, float(FIGURES_MM[next_up - 1])), wall, False)


def affordable(vertices: FloatArray, pitch: float) -> float:
    """A pitch in mm, or the next coarser one of `FIGURES_MM` that needs no more than `MOST_COLUMNS`."""
    low, high = box_of(vertices)
    for coarser in FIGURES_MM[pitch + 1e-9 < FIGURES_MM]:
        if Grid.around(low, high, pitch, shift=1.0).n_columns <= MOST_COLUMNS:
            break
        pitch = float(coarser)
    return pitch


def thinnest_wall(vertices: FloatArray, faces: IntArray) -> float | None:
    """Thickness in mm of the thinnest wall met by columns along the three axes; None without any wall.

    A wall is a material run between two faces that look away from each other (normals within about 26 degrees of
    opposite); its thickness is the run's length times the mean cosine. Feather edges, whose faces meet at an angle,
    are none. To be robust against a single stray pixel the fifth thinnest is taken.
    """
    box = box_of(vertices)
    found = [walls_along(vertices, faces, box, axis) for axis in range(3)]
    walls = np.sort(np.concatenate([one.thickness for one in found]))
    if len(walls) == 0:
        return None
    return float(walls[min(4, len(walls) - 1)])


@dataclass(frozen=True, eq=False)
class WallsMet:
    """Walls that the columns along one axis met.

    pitch: mm between the columns. thickness: (k,) mm. area: (k,) mm2 of wall that each stands for. middle: (k, 3) mm,
    halfway through. skins: (k, 2) the faces that it begins and ends at. leading: (k,) bool, the axis is the one most
    square to the wall, so that of all three only this one counts it.
    """

    pitch: float
    thickness: FloatArray
    area: FloatArray
    middle: FloatArray
    skins: IntArray
    leading: NDArray[np.bool_]


def walls_along(vertices: FloatArray, faces: IntArray, box: FloatArray, axis: int) -> WallsMet:
    """The walls (as `thinnest_wall` says) that a coarse grid of columns along a coordinate axis meets.

    vertices: (n, 3) mm. box: (2, 3) bounds of the vertices.
    """
    span = np.maximum(np.delete(box[1] - box[0], axis), 1e-6)
    pitch = max(float(np.sqrt(span[0] * span[1] / SAMPLES_PER_AXIS)), float(span.max() / 4000))
    # Shifted off the middle: a part made of regular pieces should not be met along its own edges.
    met = cast_crossings(vertices, faces, box, axis, pitch, 0.37)
    # A wall: material begins (winding 0 to 1) and ends at the very next crossing of the same column.
    new_column = np.flatnonzero(np.diff(met.column, prepend=-1))
    summed = np.cumsum(met.step)
    before = np.repeat(summed[new_column] - met.step[new_column], np.diff(new_column, append=len(summed)))
    winding = summed - before
    first = np.flatnonzero((met.step[:-1] == 1) & (met.step[1:] == -1) & (met.column[1:] == met.column[:-1]))
    first = first[winding[first] == 1]
    below, above = _normals(vertices, faces[met.face[first]]), _normals(vertices, faces[met.face[first + 1]])
    facing = np.einsum("ij,ij->i", below, above) < -0.9
    cosine = 0.5 * (np.abs(below[:, axis]) + np.abs(above[:, axis]))
    thickness = (met.z[first + 1] - met.z[first]) * cosine
    walls = np.flatnonzero(facing & (cosine > 0.5) & (thickness > 1e-6))
    first, normal = first[walls], np.abs(below[walls]) + np.abs(above[walls])
    across = np.array([(axis + 1) % 3, (axis + 2) % 3])
    grid = Grid.around(box[0, across], box[1, across], pitch, 0.37)
    middle = np.empty((len(first), 3))
    middle[:, across[0]], middle[:, across[1]] = grid.centres(met.column[first])
    middle[:, axis] = 0.5 * (met.z[first] + met.z[first + 1])
    skins = np.stack((met.face[first], met.face[first + 1]), axis=1)
    leading = normal.argmax(axis=1) == axis
    return WallsMet(pitch, thickness[walls], pitch**2 / cosine[walls], middle, skins, leading)


def _normals(vertices: FloatArray, faces: IntArray) -> FloatArray:
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    return np.asarray(normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300))
