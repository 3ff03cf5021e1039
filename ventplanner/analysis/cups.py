"""Cups: pockets of free space that are closed, for a while or for good, by what is printed and by the film."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from ventplanner.geometry.columns import LongArray, Runs
from ventplanner.geometry.join_tree import JoinTree, SealedPieces, sealed_pieces
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.options import AnalysisOptions

State = Literal["sealed", "late", "breathing"]
ClosedBy = Literal["print", "plate"]

NOISE_MM = 1e-6
"""Two starts that join within this height are one: rounding of z on a flat floor, no pocket (own judgement)."""

NOISE_MM3 = 1e-3
"""Pockets of less volume are steps of the raster; their volume counts, their number says nothing (own judgement)."""

FLAT_MM = 0.15
"""A start is a place, not a pixel: the runs that begin within this height of the lowest one share it, so the place
named may be so much higher (own judgement: three layers)."""


@dataclass(frozen=True, eq=False)
class Cup:
    """One cup above the filter. Heights are build heights in mm.

    branch: its branch in the join tree. start: (3,) build point just above its lowest place. from_height: where it
    begins. joins_height: where it becomes one with an older cup, None if never. to_height: where it first reaches the
    outside, None if never. top_height: highest sealed height. sealed_volume: mm3 until it joins an older cup.
    peak_area (mm2) at peak_height. area: (bins,) mean sealed area per bin of the sealed-area curve.
    """

    branch: int
    start: FloatArray
    from_height: float
    joins_height: float | None
    to_height: float | None
    top_height: float
    closed_by: ClosedBy
    peak_area: float
    peak_height: float
    sealed_volume: float
    area: FloatArray

    @property
    def sealed_height(self) -> float:
        """mm over which it is sealed, whether by itself or as a part of an older cup."""
        return (self.top_height if self.to_height is None else self.to_height) - self.from_height

    def state(self, options: AnalysisOptions) -> State:
        """Sealed for good, late (sealed over too much height and volume), or breathing."""
        if self.to_height is None:
            return "sealed"
        late = self.sealed_height > options.late_mm and self.sealed_volume > options.late_mm3
        return "late" if late else "breathing"


@dataclass(frozen=True, eq=False)
class SealedArea:
    """Sealed area by height over the whole part, linear between points; its integral is the sealed volume exactly.

    height, area: (k,) float64 in mm and mm2; the steps are at most the pitch.
    """

    height: FloatArray
    area: FloatArray

    @property
    def volume(self) -> float:
        """mm3 under the curve."""
        return float(np.trapezoid(self.area, self.height))


@dataclass(frozen=True, eq=False)
class Cups:
    """All cups above the filter, by start height; what was filtered; the curve with everything in it.

    cup_of_branch: (b,) int32, the cup that each branch is, or joins on its way out; -1 where there is none.
    """

    tree: JoinTree
    cups: tuple[Cup, ...]
    cup_of_branch: IntArray
    filtered_count: int
    filtered_volume: float
    sealed_area: SealedArea

    def cup_at(self, points: FloatArray) -> LongArray:
        """(k, 3) build points to the number of the cup whose sealed space holds each, -1 elsewhere."""
        branch = self.tree.branch_at(points)
        return np.where(branch > 0, self.cup_of_branch[branch], -1).astype(np.int64)

    def runs_of(self, number: int) -> LongArray:
        """The runs that start in a cup, (k,) ascending, those of filtered pockets that join it included."""
        return self._runs_by_cup.of(number)

    def columns_of(self, number: int) -> LongArray:
        """The columns that a cup may reach at any height, (k,) ascending: those of its own runs, and of the runs of all
        cups that join the same oldest one before the outside."""
        branch = self.cups[number].branch
        runs = self._runs_by_eldest.of(int(self._eldest[branch]))
        return np.unique(self.tree.runs.column_of_run[runs]).astype(np.int64)

    @cached_property
    def _runs_by_cup(self) -> _Sorted:
        runs = self.tree.enclosed_runs
        return _Sorted.by(runs, self.cup_of_branch[self.tree.branch_of_run[runs]])

    @cached_property
    def _runs_by_eldest(self) -> _Sorted:
        runs = self.tree.enclosed_runs
        return _Sorted.by(runs, self._eldest[self.tree.branch_of_run[runs]])

    @cached_property
    def _eldest(self) -> LongArray:
        """(b,) the last branch that each one joins before the outside."""
        parent = self.tree.parent
        end = np.where(parent > 0, parent, np.arange(len(parent)))
        while not np.array_equal(further := end[end], end):
            end = further
        return end.astype(np.int64)


@dataclass(frozen=True, eq=False)
class _Sorted:
    """Runs sorted by a number, so that those of one number are found at once."""

    runs: LongArray
    number: IntArray | LongArray

    @classmethod
    def by(cls, runs: LongArray, number: IntArray | LongArray) -> _Sorted:
        order = np.argsort(number, kind="stable")
        return cls(runs[order], number[order])

    def of(self, number: int) -> LongArray:
        first, last = np.searchsorted(self.number, number, "left"), np.searchsorted(self.number, number, "right")
        return self.runs[first:last]


def find_cups(tree: JoinTree, height: float, options: AnalysisOptions, on_plate: bool) -> Cups:
    """Cups of a join tree with sealed volume and height above the filter. height: the part's height in mm."""
    step = height / max(1, int(np.ceil(height / tree.runs.grid.pitch - 1e-9)))
    rows = np.zeros(tree.n_branches, dtype=np.int32)
    all_of_it = sealed_pieces(tree, rows, 1, height, step)
    persistence = np.minimum(tree.merge, all_of_it.top) - np.maximum(tree.birth, 0.0)
    pocket = (all_of_it.volume > NOISE_MM3) & (persistence > NOISE_MM)
    kept = pocket & (all_of_it.volume >= options.ignore_below_mm3) & (persistence >= options.ignore_under_mm)
    kept[0] = pocket[0] = False
    branches = np.flatnonzero(kept)
    members = runs_at_start(tree, branches)
    starts = np.array([start_point(tree.runs, runs) for runs in members]).reshape(-1, 3)
    # Equal starts differ by rounding: by height to a hundredth, then by place.
    order = np.lexsort((*np.round(starts[:, 1::-1].T, 2), np.round(tree.birth[branches], 2)))
    branches, starts = branches[order], starts[order]
    rows[branches] = np.arange(1, len(branches) + 1)
    pieces = sealed_pieces(tree, rows, len(branches) + 1, height, step)
    tops = _tops_of_kept(tree, kept, all_of_it.top)
    cups = tuple(_cup(tree, int(b), starts[k], pieces, k + 1, float(tops[b]), on_plate) for k, b in enumerate(branches))
    filtered = pocket & ~kept
    return Cups(
        tree,
        cups,
        _cup_of_branch(tree, branches),
        int(filtered.sum()),
        float(all_of_it.volume[~kept].sum()),
        _curve(all_of_it.curves[0], step, height),
    )


def _tops_of_kept(tree: JoinTree, kept: np.ndarray, top: FloatArray) -> FloatArray:
    """Highest height at which each branch, or an older one it joined, is sealed: sealed for good means to the end."""
    return np.where(np.isinf(tree.opens), np.maximum(top, top[tree.component]), top)


def _cup_of_branch(tree: JoinTree, branches: LongArray) -> IntArray:
    number = np.full(tree.n_branches, -1, dtype=np.int32)
    number[branches] = np.arange(len(branches), dtype=np.int32)
    # A branch that was filtered counts for the first cup it joins: parents are older, so a few rounds settle it.
    parent = np.maximum(tree.parent, 0)
    at = np.arange(tree.n_branches)
    for _ in range(tree.n_branches):
        pending = (number[at] < 0) & (tree.parent[at] > 0)
        if not pending.any():
            break
        at = np.where(pending, parent[at], at)
    return np.asarray(number[at], dtype=np.int32)


def runs_at_start(tree: JoinTree, branches: LongArray) -> list[LongArray]:
    """For each branch the runs that start in it within FLAT_MM of its birth."""
    runs = tree.enclosed_runs
    branch = tree.branch_of_run[runs]
    near = tree.runs.z0[runs] <= tree.birth[branch] + FLAT_MM
    runs, branch = runs[near], branch[near]
    order = np.argsort(branch, kind="stable")
    runs, branch = runs[order], branch[order]
    first, last = np.searchsorted(branch, branches, "left"), np.searchsorted(branch, branches, "right")
    return [runs[a:b] for a, b in zip(first, last, strict=True)]


def _cup(
    tree: JoinTree, branch: int, start: FloatArray, pieces: SealedPieces, row: int, top: float, on_plate: bool
) -> Cup:
    birth, merge, opens = (float(x[branch]) for x in (tree.birth, tree.merge, tree.opens))
    curve = pieces.curves[row]
    peak = int(np.argmax(curve))
    joins = merge if tree.parent[branch] > 0 else None
    return Cup(
        branch=branch,
        start=start,
        from_height=birth,
        joins_height=joins,
        to_height=None if np.isinf(opens) else opens,
        top_height=top,
        closed_by="plate" if on_plate and birth <= 0.0 else "print",
        peak_area=float(curve[peak]),
        peak_height=(peak + 0.5) * pieces.step,
        sealed_volume=float(pieces.volume[branch]),
        area=curve,
    )


def start_point(runs: Runs, near: LongArray) -> FloatArray:
    """(3,) build point on the floor of a cup: of the runs at its start, the one nearest their centroid.

    A flat floor has no single lowest pixel; its middle is the place a person would point at.
    """
    x, y = runs.grid.centres(runs.column_of_run[near])
    nearest = int(np.argmin((x - x.mean()) ** 2 + (y - y.mean()) ** 2))
    return np.array([x[nearest], y[nearest], runs.z0[near[nearest]]])


def _curve(mean_area: FloatArray, step: float, height: float) -> SealedArea:
    """Points at the middle of each bin plus both ends: trapezia through them add up to the bins' sum exactly."""
    middle = (np.arange(len(mean_area)) + 0.5) * step
    return SealedArea(
        np.concatenate(([0.0], middle, [height])), np.concatenate((mean_area[:1], mean_area, mean_area[-1:]))
    )
