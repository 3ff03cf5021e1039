"""One way to hold a part: its depressions, and liquid that settles in them.

The depression hierarchy of Barnes, Callaghan & Wickert (2020, Earth Surf. Dynam. 8, 431) on the graph of cells, and
their fill-spill-merge (2021, Earth Surf. Dynam. 9, 105) with liquid that lies anywhere to begin with. No liquid is
lost or made: what was there is what stays and what left.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.draining.cells import OUTSIDE, Cells
from ventplanner.geometry import pool_kernels as kernels
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray, IntArray

SHALLOW = 1.2
"""Depressions shallower than this many columns' distances are none: sloping floors are stairs between columns."""


@dataclass(frozen=True, eq=False)
class Settled:
    """Liquid at rest. liquid: (n,) mm3 in each cell. out: mm3 that left. level: (n,) height of the surface above each
    cell that holds some, along the direction up, nan elsewhere. pool: (n,) number of the pool, -1 for none."""

    liquid: FloatArray
    out: float
    level: FloatArray
    pool: IntArray

    @property
    def volume(self) -> float:
        """mm3 of all liquid."""
        return float(self.liquid.sum())


@dataclass(frozen=True, eq=False)
class Tilt:
    """Depressions of the cells, up being a unit vector in build axes. low, high: (n,) mm along it. capacity: (d,) mm3
    of each depression up to the height `spill` (d,) mm, where it runs over. Else: see `pool_kernels.grow_hierarchy`.
    """

    cells: Cells
    up: FloatArray
    low: FloatArray
    high: FloatArray
    by_low: LongArray
    by_high: LongArray
    home: IntArray
    leaf: IntArray
    dips: IntArray
    gate: IntArray
    capacity: FloatArray
    spill: FloatArray
    roots: LongArray

    @classmethod
    def of(cls, cells: Cells, up: FloatArray, raised: FloatArray | None = None) -> Tilt:
        """The depressions for a direction. raised: (e,) mm by which the sill of each contact is higher than it looks
        (what surface tension holds back), inf where nothing passes."""
        n = cells.count
        up = np.asarray(up, dtype=np.float64) / float(np.linalg.norm(up))
        low, high, lip, _ = _heights(cells, up)
        if raised is not None:
            lip = lip + raised
        sill = np.maximum(lip, np.maximum(low[cells.ends[:, 0]], low[cells.ends[:, 1]]))
        by_low, by_high, by_sill = (np.argsort(x, kind="stable") for x in (low, high, sill))
        follow, home, leaf = (np.empty(n, dtype=np.int32) for _ in range(3))
        dips, sizes = np.full((2 * n, 5), -1, dtype=np.int32), np.empty((2 * n, 2))
        kernels.run_down(low, cells.ends, lip, sill, follow)
        count = kernels.grow_hierarchy(
            cells.volume, low, high, by_low, by_high, cells.ends, sill, by_sill, SHALLOW * cells.pitch, follow, home,
            dips, sizes,
        )  # fmt: skip
        dips, gate = dips[:count].copy(), np.empty(count, dtype=np.int32)
        kernels.find_leaves(follow, home, leaf)
        kernels.find_gates(leaf, dips, gate)
        turn = dips[:, kernels.TURN]
        roots = np.flatnonzero(turn >= 0)
        roots = roots[np.argsort(-turn[roots], kind="stable")]
        capacity = sizes[:count, kernels.CAPACITY].copy()
        spill = sizes[:count, kernels.SPILL].copy()
        return cls(cells, up, low, high, by_low, by_high, home, leaf, dips, gate, capacity, spill, roots)

    def settle(self, liquid: FloatArray) -> Settled:
        """Let liquid run down until it rests. liquid: (n,) mm3 in each cell."""
        count, n = len(self.dips), self.cells.count
        pool, level, after = np.empty(count, dtype=np.int32), np.empty(count), np.empty(n)
        out = kernels.settle(
            self.cells.volume, self.low, self.high, self.by_low, self.by_high, self.leaf, self.home, self.dips,
            self.gate, self.capacity, self.roots, liquid, pool, level, after,
        )  # fmt: skip
        at = np.where(self.home >= 0, pool[np.maximum(self.home, 0)] if count else -1, -1)
        at = np.where(after > 0.0, at, -1).astype(np.int32)
        surface = np.where(at >= 0, level[np.maximum(at, 0)] if count else np.nan, np.nan)
        return Settled(after, float(out), surface, at)


def _heights(cells: Cells, up: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    x, y, z = up.tolist()
    low, high = np.empty(cells.count), np.empty(cells.count)
    kernels.heights(cells.far, x, y, z, low, high)
    high = np.maximum(high, low + 0.5 * cells.pitch)
    low[OUTSIDE] = high[OUTSIDE] = -np.inf
    lip, top = np.empty(len(cells.ends)), np.empty(len(cells.ends))
    kernels.heights(cells.rim, x, y, z, lip, top)
    return low, high, lip, top
