"""Compiled loops that sweep a graph of cells by height along one direction: its join tree, and what is sealed below."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.cell_kernels import top_of
from ventplanner.geometry.jit import (
    F8,
    IN_F8_1,
    IN_I4_1,
    IN_I4_2,
    IN_I8_1,
    IN_U1_1,
    OUT_F8_1,
    OUT_I4_1,
    OUT_U1_1,
    VOID,
    kernel,
)


@kernel(VOID(IN_F8_1, IN_I4_2, IN_F8_1, IN_I8_1, F8, OUT_I4_1, OUT_F8_1, OUT_U1_1))
def join_cells(low: Any, ends: Any, sill: Any, by_sill: Any, least: float, into: Any, at: Any, deep: Any) -> None:
    """Join cells in the order of the sills, the deeper depression staying (the elder rule of Edelsbrunner, Letscher &
    Zomorodian 2002).

    low: (n,) lower end of each cell, -inf of the outside. into: (n,) for each cell that was the lowest of its
    depression until then the lowest cell of what that joined, -1 for none; at: the height of it, inf for none; deep: 1
    where it was deeper than `least`.
    """
    n = low.shape[0]
    joined = np.arange(n).astype(np.int32)  # the root of each depression is its lowest cell
    into[:], at[:], deep[:] = -1, np.inf, 0
    for k in range(by_sill.shape[0]):
        e = by_sill[k]
        a, b = top_of(joined, ends[e, 0]), top_of(joined, ends[e, 1])
        if a == b:
            continue
        if low[a] < low[b] or (low[a] == low[b] and a < b):
            a, b = b, a
        joined[a] = into[a] = b
        at[a] = sill[e]
        deep[a] = 1 if sill[e] - low[a] > least else 0


@kernel(VOID(F8, F8, F8, F8, F8, OUT_F8_1))
def spread(low: float, high: float, rate: float, bottom: float, step: float, curve: Any) -> None:
    """Add a piece of even rate from low to high to the bins of a curve."""
    k = int((low - bottom) / step)
    while high > low and k < curve.shape[0]:
        end = min(high, bottom + (k + 1) * step) if k + 1 < curve.shape[0] else high
        if end > low:
            curve[k] += rate * (end - low)
            low = end
        k += 1


@kernel(
    VOID(
        IN_F8_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_F8_1, IN_U1_1, F8, F8,
        OUT_I4_1, OUT_F8_1, OUT_F8_1, OUT_F8_1, OUT_F8_1,
    )
)  # fmt: skip
def seal_cells(
    volume: Any, low: Any, high: Any, into: Any, at: Any, deep: Any, bottom: float, step: float,
    branch: Any, opens: Any, held: Any, top: Any, curve: Any,
) -> None:  # fmt: skip
    """What is sealed off below each height, cell 0 being the outside; of `into`, `at`, `deep` see `join_cells`.

    branch: (n,) the lowest cell of the deep depression that each cell starts in. Of those cells: opens, the height at
    which it first reaches the outside, inf if never; held, mm3 while it was a depression of its own; top, the highest
    sealed height. curve: (bins,) mm3 sealed in each step of height from `bottom` on.
    """
    n = volume.shape[0]
    branch[:], held[:], top[:], curve[:] = -1, 0.0, -np.inf, 0.0
    for c in range(n):
        end = c
        while branch[end] < 0 and end != 0 and into[end] >= 0 and not deep[end]:
            end = into[end]
        found, x = branch[end] if branch[end] >= 0 else end, c
        while branch[x] < 0:
            branch[x] = found
            if x == end:
                break
            x = into[x]
    opens[:] = -np.inf
    for c in range(1, n):
        if branch[c] == c:
            b = c
            opens[c] = np.inf
            while into[b] >= 0:
                last = at[b]
                b = branch[into[b]]
                if b == 0:
                    opens[c] = last
                    break
    for c in range(1, n):
        b, z, rate = branch[c], low[c], volume[c] / (high[c] - low[c])
        spread(z, min(high[c], opens[b]), rate, bottom, step, curve)
        while b != 0 and z < high[c]:
            end = min(high[c], at[b])
            if end > z:
                held[b] += rate * (end - z)
                top[b] = max(top[b], end)
                z = end
            if into[b] < 0:
                break
            b = branch[into[b]]


@kernel(VOID(IN_F8_1, IN_F8_1, IN_F8_1, F8, F8, OUT_F8_1))
def spread_cells(volume: Any, low: Any, high: Any, bottom: float, step: float, curve: Any) -> None:
    """curve: (bins,) mm3 of all cells but the first in each step of height from `bottom` on."""
    curve[:] = 0.0
    for c in range(1, volume.shape[0]):
        spread(low[c], high[c], volume[c] / (high[c] - low[c]), bottom, step, curve)
