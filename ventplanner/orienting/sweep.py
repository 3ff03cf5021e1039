"""Cells swept along one direction: where cups start in it, where they open, and what they seal off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.draining.cells import OUTSIDE, Cells
from ventplanner.geometry import sweep_kernels as kernels
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.pool_kernels import heights
from ventplanner.geometry.solid import FloatArray

SHALLOW = 1.2
"""Depressions shallower than this many columns' distances are none: slopes are stairs between columns."""

BINS = 96
"""Steps of height in which areas are told."""


@dataclass(frozen=True, eq=False)
class Swept:
    """The depressions of a direction, (k,) each. cell: its lowest cell. birth, merge, opens: heights along the
    direction at which it starts, joins an older one and first reaches the outside; inf for never. volume: mm3 while it
    was one of its own; top: its highest sealed height. lowest, highest: of all cells, the outside excluded. sealed:
    (BINS,) mm3 that are sealed off in each step of height. low, high: (n,) of the cells."""

    cell: LongArray
    birth: FloatArray
    merge: FloatArray
    opens: FloatArray
    volume: FloatArray
    top: FloatArray
    lowest: float
    highest: float
    sealed: FloatArray
    low: FloatArray
    high: FloatArray

    @property
    def step(self) -> float:
        """mm."""
        return (self.highest - self.lowest) / BINS

    @property
    def reached(self) -> FloatArray:
        """(k,) highest height at which each is sealed: to the end of all that it joined if it never opens."""
        return np.where(np.isinf(self.opens), self.highest_of_sealed, self.opens)

    @property
    def highest_of_sealed(self) -> float:
        """The highest height of what never opens."""
        return float(self.top[np.isinf(self.opens)].max(initial=-np.inf))


def sweep(cells: Cells, up: FloatArray) -> Swept:
    """Sweep cells from below. up: (3,) unit vector in build axes. Cell 0 is the outside, open from the start."""
    low, high = _heights(cells.far, up)
    high = np.maximum(high, low + 0.5 * cells.pitch)
    lowest, highest = float(low[1:].min(initial=0.0)), float(high[1:].max(initial=1.0))
    low[OUTSIDE] = high[OUTSIDE] = -np.inf
    lip, _ = _heights(cells.rim, up)
    sill = np.maximum(lip, np.maximum(low[cells.ends[:, 0]], low[cells.ends[:, 1]]))
    n = cells.count
    into, at, deep = np.empty(n, dtype=np.int32), np.empty(n), np.empty(n, dtype=np.uint8)
    kernels.join_cells(low, cells.ends, sill, _order(sill), SHALLOW * cells.pitch, into, at, deep)
    branch, sealed = np.empty(n, dtype=np.int32), np.empty(BINS)
    opens, held, top = np.empty(n), np.empty(n), np.empty(n)
    kernels.seal_cells(
        cells.volume, low, high, into, at, deep, lowest, (highest - lowest) / BINS, branch, opens, held, top, sealed
    )
    own = np.flatnonzero((branch == np.arange(n)) & (np.arange(n) != OUTSIDE))
    return Swept(
        own, low[own], at[own], opens[own], held[own], top[own], lowest, highest, sealed, low, high
    )  # fmt: skip


def _heights(points: np.ndarray, up: FloatArray) -> tuple[FloatArray, FloatArray]:
    x, y, z = up.tolist()
    low, high = np.empty(len(points)), np.empty(len(points))
    heights(points, x, y, z, low, high)
    return low, high


def _order(sill: FloatArray) -> LongArray:
    """Their order, by height to a 65 536th of the span: integers so small are sorted in one pass over the digits."""
    low, high = float(sill.min(initial=0.0)), float(sill.max(initial=0.0))
    scale = 65535.0 / max(high - low, 1e-9)
    return np.argsort(((sill - low) * scale).astype(np.uint16), kind="stable")
