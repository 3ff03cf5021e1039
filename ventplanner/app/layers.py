"""One layer as a picture: material, outside and voids apart, and which cavity each void belongs to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, label

from ventplanner.analysis.cups import Cups
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.places import Places
from ventplanner.geometry.columns import Grid
from ventplanner.geometry.exposure_kernels import states_in_layer
from ventplanner.geometry.solid import FloatArray
from ventplanner.printed.engine import BREATHING, CURED, MATERIAL, OUTSIDE, SEALED, AsPrinted

__all__ = [
    "BREATHING",
    "CURED",
    "MATERIAL",
    "OUTSIDE",
    "SEALED",
    "Layer",
    "layer_as_printed",
    "layer_of_columns",
]

Source = Literal["columns", "pixels", "printed"]
"""Where a picture comes from: the model at the pitch of the analysis, the model at the printer's pixels, the print."""

Bytes = NDArray[np.uint8]
Numbers = NDArray[np.int16]

MOST_CELLS = 200
"""Cavities are looked up on a grid of at most so many cells along an axis: letters and clicks need no finer one."""


@dataclass(frozen=True, eq=False)
class Layer:
    """A layer in the middle of its height `z` (build height, mm), when that much is printed.

    states: (ny, nx) uint8 of MATERIAL, OUTSIDE, BREATHING, SEALED, CURED on `grid` (row 0 is the front). cavity: int16
    place in the findings' cavities of each block of `block` x `block` pixels, -1 for none. letters: for each cavity
    that is met, its place and a build point (x, y) well inside it.
    """

    source: Source
    z: float
    grid: Grid
    states: Bytes
    cavity: Numbers
    block: int
    letters: tuple[tuple[int, float, float], ...]

    def cell_at(self, x: float, y: float) -> tuple[int, int] | None:
        """Row and column of the pixel at a build point, None off the picture."""
        i, j = int(np.floor((x - self.grid.x0) / self.grid.pitch)), int(np.floor((y - self.grid.y0) / self.grid.pitch))
        return (j, i) if 0 <= j < self.grid.ny and 0 <= i < self.grid.nx else None

    def cavity_at(self, x: float, y: float) -> int:
        """Place in the findings' cavities of the void at a build point, -1 for none."""
        cell = self.cell_at(x, y)
        if cell is None or self.states[cell] not in (BREATHING, SEALED):
            return -1
        return int(self.cavity[cell[0] // self.block, cell[1] // self.block])

    def box_of(self, place: int) -> tuple[FloatArray, FloatArray] | None:
        """Low and high build point (x, y) of a cavity in this layer, to a block; None if it is not in it."""
        void = np.isin(self.states[:: self.block, :: self.block], (BREATHING, SEALED))
        rows, columns = np.nonzero(void & (self.cavity == place))
        if not len(rows):
            return None
        step, corner = self.block * self.grid.pitch, np.array([self.grid.x0, self.grid.y0])
        low, high = np.array([columns.min(), rows.min()]), np.array([columns.max() + 1, rows.max() + 1])
        return corner + low * step, corner + high * step

    @property
    def nbytes(self) -> int:
        """What it holds in memory."""
        return self.states.nbytes + self.cavity.nbytes

    def area(self, state: int) -> float:
        """mm2 of the pixels in a state."""
        return float(np.count_nonzero(self.states == state)) * self.grid.pitch**2


def layer_of_columns(findings: Findings, cups: Cups, z: float, places: Places | None = None) -> Layer:
    """The layer of the model at a build height, from the columns of the analysis. cups: with the accepted vents."""
    tree = cups.tree
    runs = tree.runs
    states = np.empty(runs.grid.n_columns, dtype=np.uint8)
    states_in_layer(runs.offsets, runs.z0, runs.z1, tree.opens[tree.branch_of_run], z, states)
    picture = states.reshape(runs.grid.ny, runs.grid.nx)
    sky, count = label(picture == OUTSIDE)
    if count > 1:
        picture[(sky > 0) & (sky != sky[0, 0])] = BREATHING
    return _named("columns", findings, z, runs.grid, picture, places)


def layer_as_printed(
    findings: Findings, found: AsPrinted, number: int, *, printed: bool, places: Places | None = None
) -> Layer:
    """A layer at the printer's pixels, counted from 0; as printed, or in the model."""
    z = (number + 0.5) * found.part.light.layer
    picture = found.layer(number, printed=printed)
    return _named("printed" if printed else "pixels", findings, z, found.grid, picture, places)


def _named(source: Source, findings: Findings, z: float, grid: Grid, states: Bytes, places: Places | None) -> Layer:
    block = max(1, -(-max(grid.nx, grid.ny) // MOST_CELLS))
    rows, columns = np.arange(0, grid.ny, block), np.arange(0, grid.nx, block)
    # The pixel in the middle of a block speaks for it.
    j, i = np.minimum(rows + block // 2, grid.ny - 1), np.minimum(columns + block // 2, grid.nx - 1)
    sample = states[np.ix_(j, i)]
    void = (sample == BREATHING) | (sample == SEALED)
    cavity = np.full(void.shape, -1, dtype=np.int16)
    if void.any():
        x, y = grid.x0 + (i + 0.5) * grid.pitch, grid.y0 + (j + 0.5) * grid.pitch
        r, c = np.nonzero(void)
        points = np.column_stack((x[c], y[r], np.full(len(r), z)))
        cavity[r, c] = (Places.of(findings) if places is None else places).at(points)
    letters = _letters(cavity, grid, block)
    if void.any():
        # A block whose middle is no void has the cavity of the nearest that is.
        near = distance_transform_edt(~void, return_distances=False, return_indices=True)
        cavity = cavity[tuple(near)]
    _open_air(states, cavity, block)
    return Layer(source, z, grid, states, cavity, block, letters)


def _open_air(states: Bytes, cavity: Numbers, block: int) -> None:
    """Void in no cavity that is reached from the picture's rim is outside, also below an overhang."""
    if not (states == BREATHING).any():
        return
    rows, columns = (np.arange(n) // block for n in states.shape)
    free = cavity.take(rows, axis=0).take(columns, axis=1) < 0
    free &= (states == OUTSIDE) | (states == BREATHING)
    names, _ = label(free)
    states[(names > 0) & (names == names[0, 0])] = OUTSIDE


def _letters(cavity: Numbers, grid: Grid, block: int) -> tuple[tuple[int, float, float], ...]:
    """A point of each cavity that is as far from its rim as any."""
    found = []
    for place in np.unique(cavity[cavity >= 0]).tolist():
        depth: FloatArray = distance_transform_edt(np.pad(cavity == place, 1))[1:-1, 1:-1]
        row, column = np.unravel_index(int(depth.argmax()), depth.shape)
        x = grid.x0 + (min(int(column) * block + block // 2, grid.nx - 1) + 0.5) * grid.pitch
        y = grid.y0 + (min(int(row) * block + block // 2, grid.ny - 1) + 0.5) * grid.pitch
        found.append((place, x, y))
    return tuple(found)
