"""Free space in pieces that do not depend on each other: what a drill changes is swept again in its pieces alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.columns import Grid, LongArray, Runs, Tool, tool_intervals, with_void
from ventplanner.geometry.join_tree import JoinTree, Rise, join_tree
from ventplanner.geometry.solid import FloatArray, IntArray

BESIDE = 2
"""Columns beside a drill: the next may join it, and what is outside for sure there is told so by those after them."""

LARGE = 0.25
"""Beyond this share of all columns the whole part is swept as quickly."""


@dataclass(frozen=True)
class Region:
    """What is to be swept. pieces: their numbers. drills: those that reach them, by their place in a list. box: i0, i1,
    j0, j1 of the columns (ends not counted)."""

    pieces: frozenset[int]
    drills: frozenset[int]
    box: tuple[int, int, int, int]


@dataclass(frozen=True, eq=False)
class Swept:
    """The join tree of a region; what is neither in its pieces nor outside is material there. columns: (m,) of the
    whole grid that it is a window of, ascending."""

    tree: JoinTree
    columns: LongArray
    grid: Grid

    def holds(self, points: FloatArray) -> NDArray[np.bool_]:
        """(k,) bool: which build points (k, 3) are free space that was swept."""
        column = self.grid.column_at(points[:, 0], points[:, 1])
        place = np.minimum(np.searchsorted(self.columns, column), len(self.columns) - 1)
        return np.asarray((self.columns[place] == column) & (self.tree.runs.run_in(place, points[:, 2]) >= 0))

    def centres(self, runs: LongArray) -> tuple[FloatArray, FloatArray]:
        """x and y in mm of runs, exactly as of the whole grid."""
        return self.grid.centres(self.columns[self.tree.runs.column_of_run[runs]])


@dataclass(frozen=True, eq=False)
class Pieces:
    """The free space without holes. bare: its runs before any plate; layer_mm: of the plate that was put in, None off
    the plate; rise: of the runs with it. upright: the grid that drills are put on, if `bare` is upside down.

    Two runs that can ever touch are in one piece, unless one of them is outside for sure from its start. So each piece
    is swept by itself, with what is outside round it. Build points and columns are those of `bare`.
    """

    bare: Runs
    rise: Rise
    layer_mm: float | None = None
    upright: Grid | None = None

    @cached_property
    def piece_of_run(self) -> IntArray:
        """(n,) int32: the piece of each run of `rise`, -1 for those outside for sure."""
        runs = self.rise.runs
        live = np.flatnonzero((runs.z0 > -np.inf) & (self.rise.quiet == 0))
        offsets = _offsets(runs.column_of_run[live], runs.grid.n_columns)
        tree = join_tree(
            replace(runs, offsets=offsets, z0=runs.z0[live], z1=runs.z1[live], void_class=runs.void_class[live])
        )
        piece = np.full(len(runs.z0), -1, dtype=np.int32)
        piece[live] = np.unique(tree.component[tree.branch_of_run], return_inverse=True)[1]
        return piece

    @cached_property
    def boxes(self) -> LongArray:
        """(p, 4) i0, i1, j0, j1 of the columns of each piece (ends not counted)."""
        live = np.flatnonzero(self.piece_of_run >= 0)
        piece = self.piece_of_run[live]
        count = int(piece.max(initial=-1)) + 1
        j, i = np.divmod(self.rise.runs.column_of_run[live].astype(np.int64), self.bare.grid.nx)
        box = np.empty((count, 4), dtype=np.int64)
        for axis, at in ((0, i), (2, j)):
            low, high = np.full(count, np.iinfo(np.int64).max), np.full(count, -1)
            np.minimum.at(low, piece, at)
            np.maximum.at(high, piece, at)
            box[:, axis], box[:, axis + 1] = low, high + 1
        return box

    def at(self, points: FloatArray) -> frozenset[int]:
        """The pieces that build points (k, 3) lie in."""
        run = self.rise.runs.run_at(points)
        return frozenset(np.unique(self.piece_of_run[run[run >= 0]]).tolist()) - {-1}

    def between(self, low: FloatArray, high: FloatArray) -> frozenset[int]:
        """The pieces whose columns may meet a box, by x and y (2+,) in mm."""
        return frozenset(np.flatnonzero(_meet(self._box(low, high), self.boxes)).tolist())

    def drills_between(self, drills: Sequence[Tool], low: FloatArray, high: FloatArray) -> frozenset[int]:
        """Which of some drills may meet a box, by x and y."""
        if not drills:
            return frozenset()
        return frozenset(np.flatnonzero(_meet(self._box(low, high), self._reach(drills))).tolist())

    def region(self, drills: Sequence[Tool], first: Iterable[int], pieces: frozenset[int]) -> Region | None:
        """All that depends on some of these drills (`first`, by place) and on some pieces; None if it is `LARGE`."""
        reach, chosen = self._reach(drills), set(first)
        for k in chosen:
            pieces |= self._touched(reach[k])
        left = set(range(len(drills))) - chosen
        while True:
            boxes = np.concatenate((self.boxes[sorted(pieces)], reach[sorted(chosen)]))
            box = (*_around(boxes, self.bare.grid),)
            if (box[1] - box[0]) * (box[3] - box[2]) > LARGE * self.bare.grid.n_columns:
                return None
            near = [k for k in sorted(left) if _meet(reach[k], boxes).any()]
            near = [k for k in near if _meet(reach[k], reach[sorted(chosen)]).any() or self._touched(reach[k]) & pieces]
            if not near:
                return Region(frozenset(pieces), frozenset(chosen), box)
            chosen.update(near)
            left -= set(near)
            for k in near:
                pieces |= self._touched(reach[k])

    def swept(self, region: Region, drills: Sequence[Tool]) -> Swept:
        """A region swept with these drills, all of which lie in it."""
        runs, grid = self.rise.runs, self.bare.grid
        i0, i1, j0, j1 = region.box
        columns = (np.arange(j0, j1)[:, None] * grid.nx + np.arange(i0, i1)).ravel()
        wanted = np.zeros(len(self.boxes) + 1, dtype=np.bool_)
        wanted[[*region.pieces, -1]] = True  # the last is for the number -1
        index, column = _runs_in(runs, columns)
        changed, fresh = self._drilled(drills)
        place = np.searchsorted(columns, changed)
        is_changed = np.zeros(len(columns), dtype=np.bool_)
        is_changed[place] = True
        kept = wanted[self.piece_of_run[index]] & ~is_changed[column]
        index, column = index[kept], column[kept]
        known = (self.rise.quiet[index] != 0) & ~_grown(is_changed, i1 - i0)[column]
        column = np.concatenate((column, place[fresh.column_of_run]))
        order = np.argsort(column, kind="stable")
        z0, z1, void_class = (
            np.concatenate((getattr(runs, name)[index], getattr(fresh, name)))[order]
            for name in ("z0", "z1", "void_class")
        )
        known = np.concatenate((known, np.zeros(len(fresh.z0), dtype=np.bool_)))[order]
        own = Grid(grid.x0 + i0 * grid.pitch, grid.y0 + j0 * grid.pitch, grid.pitch, i1 - i0, j1 - j0)
        offsets = _offsets(column, len(columns))
        window = Runs(own, offsets, z0, z1, void_class, np.zeros(len(columns), dtype=np.bool_))
        events = np.flatnonzero((z0 > -np.inf) & ~known)
        events = events[np.argsort(z0[events], kind="stable")]
        return Swept(join_tree(window, Rise(window, events, known.astype(np.uint8))), columns, grid)

    def _drilled(self, drills: Sequence[Tool]) -> tuple[LongArray, Runs]:
        """The columns that drills cover, ascending, and their runs, side by side on a grid of one row."""
        grid = self.bare.grid
        parts = [self._intervals(drill) for drill in drills]
        column = np.concatenate([np.empty(0, dtype=np.int64), *(p[0] for p in parts)])
        low, high = (np.concatenate([np.empty(0), *(p[k] for p in parts)]) for k in (1, 2))
        covered = np.unique(column)
        index, place = _runs_in(self.bare, covered)
        strip, bare = Grid(grid.x0, grid.y0, grid.pitch, len(covered), 1), self.bare
        rims = grid.is_rim(covered)
        runs = Runs(strip, _offsets(place, len(covered)), bare.z0[index], bare.z1[index], bare.void_class[index], rims)
        runs = with_void(runs, np.searchsorted(covered, column), low, high)
        return covered, runs if self.layer_mm is None else runs.on_plate(self.layer_mm, rims)

    def _intervals(self, drill: Tool) -> tuple[LongArray, FloatArray, FloatArray]:
        if self.upright is None:
            return tool_intervals(drill, self.bare.grid)
        column, low, high = tool_intervals(drill, self.upright)
        return self.bare.grid.n_columns - 1 - column, -high, -low

    def _reach(self, drills: Sequence[Tool]) -> LongArray:
        """(t, 4) boxes of columns that hold all that drills may change, and `BESIDE` more."""
        ends = np.array([(d.start[:2], d.end[:2]) for d in drills]).reshape(-1, 2, 2)
        far = np.array([d.radius if d.is_cylinder else d.outer_radius for d in drills])[:, None]
        low, high = ends.min(axis=1) - far, ends.max(axis=1) + far
        if self.upright is not None:
            low, high = -high, -low
        return self._box(low, high)

    def _box(self, low: FloatArray, high: FloatArray) -> LongArray:
        """(…, 4) columns, and `BESIDE` more, that meet boxes by x and y."""
        grid = self.bare.grid
        origin, size = np.array([grid.x0, grid.y0]), np.array([grid.nx, grid.ny])
        first = np.floor((low[..., :2] - origin) / grid.pitch).astype(np.int64) - BESIDE - 1
        last = np.floor((high[..., :2] - origin) / grid.pitch).astype(np.int64) + BESIDE + 2
        first, last = np.clip(first, 0, size), np.clip(last, 0, size)
        return np.stack((first[..., 0], last[..., 0], first[..., 1], last[..., 1]), axis=-1)

    def _touched(self, box: LongArray) -> frozenset[int]:
        """The pieces with runs in a box of columns."""
        columns = (np.arange(box[2], box[3])[:, None] * self.bare.grid.nx + np.arange(box[0], box[1])).ravel()
        index, _ = _runs_in(self.rise.runs, columns)
        return frozenset(np.unique(self.piece_of_run[index]).tolist()) - {-1}


def _around(boxes: LongArray, grid: Grid) -> tuple[int, int, int, int]:
    """The box round boxes, and a column more on each side."""
    low, high = boxes.min(axis=0), boxes.max(axis=0)
    return (
        max(0, int(low[0]) - 1),
        min(grid.nx, int(high[1]) + 1),
        max(0, int(low[2]) - 1),
        min(grid.ny, int(high[3]) + 1),
    )


def _meet(box: LongArray, boxes: LongArray) -> NDArray[np.bool_]:
    """(k,) bool: which boxes have a column of one box."""
    return np.asarray((boxes[:, 0] < box[1]) & (box[0] < boxes[:, 1]) & (boxes[:, 2] < box[3]) & (box[2] < boxes[:, 3]))


def _runs_in(runs: Runs, columns: LongArray) -> tuple[LongArray, LongArray]:
    """The runs of some columns in their order, (k,), and at which place in `columns` each stands."""
    first = runs.offsets[columns]
    count = runs.offsets[columns + 1] - first
    place = np.repeat(np.arange(len(columns)), count)
    return np.arange(len(place)) + (first - np.cumsum(count) + count)[place], place


def _offsets(column: LongArray | IntArray, count: int) -> LongArray:
    offsets = np.zeros(count + 1, dtype=np.int64)
    np.cumsum(np.bincount(column, minlength=count), out=offsets[1:])
    return offsets


def _grown(columns: NDArray[np.bool_], nx: int) -> NDArray[np.bool_]:
    """Columns of a window nx wide, and those beside them."""
    flat = columns.reshape(-1, nx)
    grown = flat.copy()
    grown[1:] |= flat[:-1]
    grown[:-1] |= flat[1:]
    grown[:, 1:] |= flat[:, :-1]
    grown[:, :-1] |= flat[:, 1:]
    return grown.ravel()
