"""The join tree of the free space under what has been printed so far: pocket starts, joins, and sealed pieces."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry import join_kernels as kernels
from ventplanner.geometry import lookup_kernels as lookup
from ventplanner.geometry.columns import LongArray, Runs
from ventplanner.geometry.solid import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class JoinTree:
    """Branches of the free space swept by rising z (Carr, Snoeyink & Axen 2003); branch 0 is the outside.

    birth: (b,) height of the pocket start. merge: height where the branch joins `parent` (an older branch), inf if it
    never does. opens: height where its chain of joins first reaches the outside, inf if never. component: the branch
    that holds it in the end (0: the outside). merge_run: the run at which it joined, -1 if it never did.
    branch_of_run: (n,) the branch each run starts in.
    """

    runs: Runs
    branch_of_run: IntArray
    birth: FloatArray
    parent: IntArray
    merge: FloatArray
    merge_run: LongArray
    opens: FloatArray
    component: IntArray

    @property
    def n_branches(self) -> int:
        """Number of branches, the outside included."""
        return len(self.birth)

    @cached_property
    def enclosed_runs(self) -> LongArray:
        """Runs that start in a branch other than the outside: all that can ever be sealed."""
        return np.flatnonzero(self.branch_of_run != 0)

    def branch_at(self, points: FloatArray) -> IntArray:
        """(k,) the branch that each of (k, 3) build points lies in when its own height is reached, -1 in material."""
        runs, found = self.runs, np.empty(len(points), dtype=np.int32)
        grid = runs.grid
        lookup.branches_holding(
            np.ascontiguousarray(points), np.array([grid.x0, grid.y0, grid.pitch]), np.array([grid.nx, grid.ny]),
            runs.offsets, runs.z0, runs.z1, self.branch_of_run, self.parent, self.merge, found,
        )  # fmt: skip
        return found


@dataclass(frozen=True, eq=False)
class SealedPieces:
    """What is sealed, by branch and by height.

    volume: (b,) mm3 while it was a separate cup. top: (b,) highest sealed height. step: bin height in mm. curves:
    (rows, bins) mean sealed area in mm2 of each bin.
    """

    volume: FloatArray
    top: FloatArray
    step: float
    curves: FloatArray


@dataclass(frozen=True, eq=False)
class Rise:
    """Runs by the height at which they start: the events of the sweep. order: int64, by z0, then by number; all that
    start anywhere but those that are known to be outside. known: (n,) uint8."""

    runs: Runs
    order: LongArray
    known: NDArray[np.uint8]

    @classmethod
    def of(cls, runs: Runs) -> Rise:
        """Sort them."""
        inner = np.flatnonzero(runs.z0 > -np.inf)
        order = inner[np.argsort(runs.z0[inner], kind="stable")]
        return cls(runs, order, np.zeros(len(runs.z0), dtype=np.uint8))

    @cached_property
    def quiet(self) -> NDArray[np.uint8]:
        """(n,) 1 for runs that start outside where they touch nothing but the outside."""
        runs, quiet = self.runs, np.empty(len(self.runs.z0), dtype=np.uint8)
        branches = join_tree(runs, self).branch_of_run
        kernels.find_quiet(
            runs.grid.nx, runs.grid.ny, runs.offsets, runs.column_of_run, runs.z0, runs.z1, branches, quiet
        )
        return quiet

    def renewed(self, runs: Runs) -> Rise:
        """The same with holes drilled: only columns that they changed are sorted, and merged in.

        More void joins more: a run that started outside where it touched nothing but the outside does so still, unless
        its column or one beside it has changed.
        """
        old = self.runs
        place, fresh = np.empty(len(old.z0), dtype=np.int64), np.empty(len(runs.z0), dtype=np.int64)
        changed, known = np.empty(old.grid.n_columns, dtype=np.uint8), np.empty(len(runs.z0), dtype=np.uint8)
        count = kernels.match_columns(
            old.grid.nx, old.offsets, old.z0, old.z1, old.void_class, self.quiet,
            runs.offsets, runs.z0, runs.z1, runs.void_class, changed, place, fresh, known,
        )  # fmt: skip
        added = fresh[:count]
        added = added[np.argsort(runs.z0[added], kind="stable")]
        order = np.empty(len(self.order) + count, dtype=np.int64)
        n = kernels.merge_order(self.order, place, added, runs.z0, order)
        return Rise(runs, order[:n], known)


def join_tree(runs: Runs, rise: Rise | None = None, sides: Literal[4, 8] = 4) -> JoinTree:
    """Sweep the runs by z0 with a union-find and the elder rule (Edelsbrunner, Letscher & Zomorodian 2002).

    rise: their order, if it is known already. sides: neighbours of a column, 8 with those across the corners.
    """
    rise = rise or Rise.of(runs)
    order = rise.order
    n = len(runs.z0)
    most = len(order) + 1
    branch_of_run = np.empty(n, dtype=np.int32)
    birth, merge = np.empty(most), np.empty(most)
    parent, joined = np.empty(most, dtype=np.int32), np.empty(most, dtype=np.int32)
    merge_run = np.empty(most, dtype=np.int64)
    grid = runs.grid
    count = kernels.sweep(
        grid.nx, grid.ny, sides, runs.offsets, runs.column_of_run, runs.z0, runs.z1, runs.void_class, order,
        rise.known, branch_of_run, birth, parent, merge, merge_run, joined,
    )  # fmt: skip
    birth, parent, merge, merge_run = birth[:count], parent[:count], merge[:count], merge_run[:count]
    opens, component = _follow(parent, merge)
    return JoinTree(runs, branch_of_run, birth.copy(), parent.copy(), merge.copy(), merge_run.copy(), opens, component)


def _follow(parent: IntArray, merge: FloatArray) -> tuple[FloatArray, IntArray]:
    """Height at which each branch's chain of joins reaches the outside, and the branch at the chain's end.

    Pointer doubling: along a chain the joins only rise, so the last one before the outside is the answer.
    """
    end = np.where(parent < 0, np.arange(len(parent), dtype=np.int32), parent)
    last = merge.copy()
    while True:
        further = end[end]
        if np.array_equal(further, end):
            break
        last = np.where(further != end, np.maximum(last, last[end]), last)
        end = further
    opens = np.where(end == 0, last, np.inf)
    opens[0] = -np.inf
    return opens, end


def sealed_pieces(tree: JoinTree, row_of_branch: IntArray, n_rows: int, height: float, step: float) -> SealedPieces:
    """Sum up sealed volume, top and area curves; exact in z.

    row_of_branch: (b,) int32, the curve each branch is added to (0..n_rows-1). height: the part's height in mm.
    """
    n_bins = max(1, int(np.ceil(height / step - 1e-9)))
    volume, top = np.zeros(tree.n_branches), np.full(tree.n_branches, -np.inf)
    flat = np.zeros(n_rows * 2 * (n_bins + 1))
    runs = tree.runs
    kernels.deposit(
        tree.enclosed_runs, runs.z0, runs.z1, tree.branch_of_run, tree.parent, tree.merge, row_of_branch,
        runs.pixel_area, step, n_bins, volume, top, flat,
    )  # fmt: skip
    parts = flat.reshape(n_rows, 2, n_bins + 1)
    curves = (parts[:, 0] + np.cumsum(parts[:, 1], axis=1))[:, :n_bins]
    # Differences of equal sums leave dust of rounding where nothing is sealed.
    curves[np.abs(curves) < 1e-9 * max(1.0, float(np.abs(curves).max(initial=0.0)))] = 0.0
    return SealedPieces(volume, top, step, curves)
