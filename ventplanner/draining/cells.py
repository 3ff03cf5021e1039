"""The free space of a part as a graph of cells: what liquid can stand in, whichever way the part is held.

The void between the columns is divided into cubic blocks; a cell is a connected piece of it within one block. A thin
wall is never lost by that, as cells on its two sides are two pieces. Whatever liquid can never rest in is one cell, the
outside. Any way to hold the part is then a question of sorting cells and contacts by height (`draining.tilt`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.places import Places
from ventplanner.geometry import cell_kernels as kernels
from ventplanner.geometry.columns import LongArray, Runs, Tool, drilled, tool_intervals
from ventplanner.geometry.solid import FloatArray, IntArray

Flags = NDArray[np.bool_]
Points = NDArray[np.float32]

OUTSIDE = 0
"""The cell of the outside."""

MOST_PIECES = 5_000_000
"""Pieces of runs at most: blocks get larger beyond that."""

COARSE_MM = 2.0
"""Blocks that all of the space round a part is divided into, to see what can hold liquid."""

WANTED = 25_000
"""About so many cells what holds liquid is then divided into."""

CHUNK = 500_000
"""So many pieces are looked up at a time: their places take memory."""

_BORE = np.int32(1 << 30)


@dataclass(frozen=True, eq=False)
class Cells:
    """Cells and where they touch. Build axes, mm.

    volume: (n,) mm3; cell 0 is the outside and has none. place: (n, 3) a point in each. cavity: (n,) place in
    `findings.cavities`, -1 for none. bored: (n,) bool, within a planned hole. far: (n, 14, 3) its furthest points
    (`cell_kernels.WAYS`). ends: (e, 2) the cells of each contact; area: (e,) mm2; rim: (e, 14, 3) its furthest points.
    side: mm of a block. pitch: mm between columns.
    """

    volume: FloatArray
    place: FloatArray
    cavity: LongArray
    bored: Flags
    far: Points
    ends: IntArray
    area: FloatArray
    rim: Points
    side: float
    pitch: float

    @property
    def count(self) -> int:
        """Number of cells, the outside included."""
        return len(self.volume)

    def kept(self, keep: Flags) -> Cells:
        """Only some of the cells; all others are the outside."""
        keep = keep.copy()
        keep[OUTSIDE] = True
        new = np.where(keep, np.cumsum(keep) - 1, OUTSIDE).astype(np.int32)
        ends = new[self.ends]
        apart = ends[:, 0] != ends[:, 1]
        volume, far = self.volume[keep], self.far[keep]
        return Cells(
            volume, self.place[keep], self.cavity[keep], self.bored[keep], far, np.sort(ends[apart], axis=1),
            self.area[apart], self.rim[apart], self.side, self.pitch,
        )  # fmt: skip


def cells_of(findings: Findings, tools: tuple[Tool, ...] = (), side: float | None = None) -> Cells:
    """As `space_of`, the fine ones alone."""
    return space_of(findings, tools, side)[1]


def space_of(findings: Findings, tools: tuple[Tool, ...] = (), side: float | None = None) -> tuple[Cells, Cells]:
    """What liquid can rest in, with these holes drilled: cavities and cups as they are named, planned holes, and all
    else that holds some in one of 14 ways to hold the part. Coarse cells and fine ones; side: mm of a fine block;
    None: by the size of the hollows."""
    scene = findings.scene
    runs = drilled(scene.runs, tools)
    margin = 2.0 * runs.grid.pitch
    span = np.maximum(runs.z0, -margin), np.minimum(runs.z1, scene.height + margin)
    whole = Division.of(findings, runs, tools, span, COARSE_MM)
    rough = whole.measured(findings)
    holds = _holds(rough, _at_rim(rough))
    if side is None:
        side = max(float(np.cbrt(rough.volume[holds].sum() / WANTED)), runs.grid.pitch)
    share = max(1, min(round(whole.side / side), whole.block // 2))
    if share == 1:
        return rough.kept(holds), rough.kept(holds)
    beside = holds.copy()
    beside[rough.ends[holds[rough.ends].any(axis=1)].ravel()] = True
    block = max(whole.block // share, 2)
    fine = Division.of(findings, runs, tools, whole.span_of(beside), 0.0, block)
    cells = fine.measured(findings)
    keep = np.zeros(cells.count, dtype=bool)
    np.logical_or.at(keep, fine.cell + 1, holds[whole.cell_at(fine) + 1])
    return rough.kept(holds), cells.kept(keep)


def _at_rim(cells: Cells) -> Flags:
    """(n,) bool: at a side of the box that was divided, all round the part: the open."""
    points = cells.far[1:].astype(np.float64)
    low, high = points.min(axis=1), points.max(axis=1)
    rim = ((low <= low.min(axis=0) + 1e-3) | (high >= high.max(axis=0) - 1e-3)).any(axis=1)
    return np.append(True, rim)


def _holds(cells: Cells, rim: Flags) -> Flags:
    """(n,) bool: named, bored, or holding liquid in one of 14 directions."""
    from ventplanner.draining.tilt import Tilt

    inner = cells.kept(~rim)
    found = (inner.cavity >= 0) | inner.bored
    for way in kernels.WAYS:
        found |= Tilt.of(inner, way).settle(inner.volume).liquid > 0.0
    holds = np.zeros(cells.count, dtype=bool)
    holds[1:][~rim[1:]] = found[1:]
    return holds


@dataclass(frozen=True, eq=False)
class Division:
    """Runs cut into pieces. low, high: (runs,) mm; first: slab of the first piece of each; start: (runs + 1,) number of
    it; block: columns; label, cell: (pieces,)."""

    runs: Runs
    low: FloatArray
    high: FloatArray
    first: IntArray
    start: LongArray
    bottom: float
    block: int
    label: IntArray
    cell: IntArray

    @property
    def side(self) -> float:
        """mm."""
        return self.block * self.runs.grid.pitch

    @classmethod
    def of(
        cls, findings: Findings | None, runs: Runs, tools: tuple[Tool, ...], span: tuple[FloatArray, FloatArray],
        side: float, block: int = 0,
    ) -> Division:  # fmt: skip
        """Cut and join them. side: about what a block is to measure, unless `block` says how many columns. Without
        findings all pieces that touch are joined, whatever they are a part of."""
        pitch = runs.grid.pitch
        low, high = span
        bottom = -2.0 * pitch
        if not block:
            block = max(round(side / pitch), 2)
            while (np.maximum(high - low, 0.0) / (block * pitch) + 1.0).sum() > MOST_PIECES and block * pitch < 8.0:
                block += 1
        side = block * pitch
        first = np.floor((low - bottom) / side + 1e-9).astype(np.int32)
        count = np.where(high > low, np.ceil((high - bottom) / side - 1e-9).astype(np.int32) - first, 0)
        start = np.zeros(len(count) + 1, dtype=np.int64)
        np.cumsum(np.maximum(count, 0), out=start[1:])
        if findings is None:
            label = np.zeros(int(start[-1]), dtype=np.int32)
        else:
            label = _labels(findings, runs, tools, span, (first, start), (bottom, side))
        parent, cell = np.empty(len(label), dtype=np.int32), np.empty(len(label), dtype=np.int32)
        grid = runs.grid
        kernels.join_pieces(
            grid.nx, grid.ny, block, runs.offsets, low, high, runs.void_class, first, start, bottom, side, label, parent
        )
        kernels.number_cells(parent, cell)
        return cls(runs, low, high, first, start, bottom, block, label, cell)

    @property
    def run(self) -> LongArray:
        """(pieces,) the run of each."""
        return np.repeat(np.arange(len(self.first)), np.diff(self.start))

    def ends_of_pieces(self) -> tuple[FloatArray, FloatArray]:
        """(pieces,) mm, lower and upper end."""
        return _ends(self.run, (self.low, self.high), (self.first, self.start), (self.bottom, self.side))

    def span_of(self, keep: Flags) -> tuple[FloatArray, FloatArray]:
        """From where to where each run lies in cells to be kept ((cells + 1,) bool, the outside first); empty: none."""
        low, high = np.full(len(self.first), np.inf), np.full(len(self.first), -np.inf)
        own = keep[self.cell + 1]
        run, (a, b) = self.run[own], self.ends_of_pieces()
        np.minimum.at(low, run, a[own])
        np.maximum.at(high, run, b[own])
        return np.where(high > low, low, 0.0), np.where(high > low, high, 0.0)

    def cell_at(self, other: Division) -> IntArray:
        """The cell that each piece of a finer division lies in."""
        low, high = other.ends_of_pieces()
        run = other.run
        slab = np.floor((0.5 * (low + high) - self.bottom) / self.side).astype(np.int64) - self.first[run]
        found: IntArray = self.cell[self.start[run] + np.clip(slab, 0, np.diff(self.start)[run] - 1)]
        return found

    def measured(self, findings: Findings | None) -> Cells:
        """The cells and their contacts; without findings they belong to no cavity."""
        grid, n = self.runs.grid, int(self.cell.max(initial=-1)) + 1
        volume, longest, place = np.zeros(n), np.zeros(n), np.zeros((n, 3))
        best, far = np.full((n, kernels.N_WAYS), -np.inf), np.zeros((n, kernels.N_WAYS, 3), dtype=np.float32)
        kernels.measure_cells(
            grid.nx, grid.x0, grid.y0, grid.pitch, self.runs.column_of_run, self.low, self.high, self.first, self.start,
            self.bottom, self.side, self.cell, volume, place, longest, best, far,
        )  # fmt: skip
        ends, area, rim = self._contacts(n)
        of_cell = np.zeros(n, dtype=np.int32)
        of_cell[self.cell] = self.label
        bored = of_cell == _BORE
        cavity = np.where(bored, -1, of_cell.astype(np.int64) - 1)
        if findings is not None:
            places, loose = Places.of(findings), np.flatnonzero(of_cell == 0)
            cavity[loose] = places.alone[findings.cups.cup_at(place[loose])]
        # The outside comes first.
        return Cells(
            np.append(0.0, volume), np.vstack((np.zeros(3), place)), np.append(-1, cavity), np.append(False, bored),
            np.concatenate((np.zeros((1, kernels.N_WAYS, 3), dtype=np.float32), far)), ends + 1, area, rim, self.side,
            grid.pitch,
        )  # fmt: skip

    def _contacts(self, n: int) -> tuple[IntArray, FloatArray, Points]:
        grid, room = self.runs.grid, int(3.3 * n) + 64
        while True:
            size = 1 << int(np.ceil(np.log2(2 * room)))
            keys, slots = np.full(size, -1, dtype=np.int64), np.zeros(size, dtype=np.int32)
            ends, area = np.empty((room, 2), dtype=np.int32), np.zeros(room)
            best, rim = np.full((room, kernels.N_WAYS), -np.inf), np.zeros((room, kernels.N_WAYS, 3), dtype=np.float32)
            found = kernels.find_contacts(
                grid.nx, grid.ny, grid.x0, grid.y0, grid.pitch, self.runs.offsets, self.low, self.high,
                self.runs.void_class, self.first, self.start, self.bottom, self.side, self.cell, keys, slots, ends,
                area, best, rim,
            )  # fmt: skip
            if found >= 0:
                return ends[:found].copy(), area[:found].copy(), rim[:found].copy()
            room *= 2


def _ends(
    run: LongArray, span: tuple[FloatArray, FloatArray], pieces: tuple[IntArray, LongArray], slabs: tuple[float, float]
) -> tuple[FloatArray, FloatArray]:
    slab = pieces[0][run] + (np.arange(len(run)) - pieces[1][run])
    return np.maximum(span[0][run], slabs[0] + slab * slabs[1]), np.minimum(
        span[1][run], slabs[0] + (slab + 1) * slabs[1]
    )


def _labels(
    findings: Findings,
    runs: Runs,
    tools: tuple[Tool, ...],
    span: tuple[FloatArray, FloatArray],
    pieces: tuple[IntArray, LongArray],
    slabs: tuple[float, float],
) -> IntArray:
    """(pieces,) what each is a part of: 0 the open, 1 + place of a cavity, `_BORE` a planned hole."""
    first, start = pieces
    places, voxels = Places.of(findings), findings.chambers.voxels
    near = None
    if findings.chambers.count:
        # Near walls a voxel is no free one: the nearest that is says what is there.
        near = distance_transform_edt(voxels.chamber < 0, return_distances=False, return_indices=True)
    bored = np.zeros(runs.grid.n_columns, dtype=bool)
    for tool in tools:
        bored[tool_intervals(tool, runs.grid)[0]] = True
    run = np.repeat(np.arange(len(first), dtype=np.int32), np.diff(start))
    label = np.empty(len(run), dtype=np.int32)
    for k in range(0, len(run), CHUNK):
        own = run[k : k + CHUNK]
        slab = first[own] + (np.arange(k, k + len(own)) - start[own])
        low = np.maximum(span[0][own], slabs[0] + slab * slabs[1])
        high = np.minimum(span[1][own], slabs[0] + (slab + 1) * slabs[1])
        column = runs.column_of_run[own].astype(np.int64)
        x, y = runs.grid.centres(column)
        label[k : k + CHUNK] = _label_at(places, np.stack((x, y, 0.5 * (low + high)), axis=1), column, bored, near)
    return label


def _label_at(places: Places, middle: FloatArray, column: LongArray, bored: Flags, near: IntArray | None) -> IntArray:
    """As `_labels`, of points in their columns. near: (3, …) index of the nearest free voxel of each."""
    tree, voxels = places.findings.scene.open_tree, places.findings.chambers.voxels
    own = tree.runs.run_in(column, middle[:, 2])
    sealed = places.sealed[np.where(own >= 0, tree.component[tree.branch_of_run[np.maximum(own, 0)]], 0)]
    label = np.zeros(len(middle), dtype=np.int32)
    if near is not None:
        index = np.rint((middle - voxels.origin) / voxels.size).astype(np.int64)
        shape = np.array(voxels.chamber.shape)
        inside = ((index >= 0) & (index < shape)).all(axis=1)
        i, j, k = np.clip(index, 0, shape - 1).T
        chamber = voxels.chamber[near[0, i, j, k], near[1, i, j, k], near[2, i, j, k]]
        label = np.where(inside & (chamber > 0), places.chamber[np.maximum(chamber, 0)] + 1, 0).astype(np.int32)
    label = np.where(sealed >= 0, sealed + 1, label).astype(np.int32)
    label[(own < 0) & bored[column]] = _BORE
    return label
