"""Compiled loops of pools in a graph of cells: the hierarchy of depressions of one direction, and liquid that settles.

Depression hierarchy and fill-spill-merge by Barnes, Callaghan & Wickert (2020, Earth Surf. Dynam. 8, 431; 2021, Earth
Surf. Dynam. 9, 105), on cells with contacts instead of pixels with neighbours. Cell 0 is the outside, below all others.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.cell_kernels import top_of
from ventplanner.geometry.jit import (
    F8,
    I8,
    IN_F4_3,
    IN_F8_1,
    IN_I4_1,
    IN_I4_2,
    IN_I8_1,
    OUT_F8_1,
    OUT_F8_2,
    OUT_I4_1,
    OUT_I4_2,
    VOID,
    kernel,
)

ALMOST = 1.0 - 1e-9
"""What is filled to this share is full: sums of many cells are not exact to the last bit."""


@kernel(VOID(IN_F4_3, F8, F8, F8, OUT_F8_1, OUT_F8_1))
def heights(points: Any, ux: float, uy: float, uz: float, low: Any, high: Any) -> None:
    """Lowest and highest of some points (n, m, 3) along a direction, for each row."""
    for n in range(points.shape[0]):
        least, most = np.inf, -np.inf
        for k in range(points.shape[1]):
            h = points[n, k, 0] * ux + points[n, k, 1] * uy + points[n, k, 2] * uz
            least, most = min(least, h), max(most, h)
        low[n], high[n] = least, most


@kernel(I8(OUT_I4_1, I8, I8))
def runs_to(follow: Any, cell: int, never: int) -> int:
    """Where liquid at a cell runs to; `never` if it would come by that one."""
    steps = 0
    while follow[cell] >= 0 and steps < follow.shape[0]:
        if cell == never:
            return never
        cell = follow[cell]
        steps += 1
    return cell


PIT, SLOPE, BASE = 0, 1, 2
"""Of a component: height of its lowest cell; its volume below a height z is SLOPE z + BASE."""
LOWEST, FIRST, LAST, NOW = 0, 1, 2, 3
"""Of a component: its lowest cell, the list of cells that belong to no depression yet, and its depression, -1 for
none."""
PARENT, LEFT, RIGHT, ACROSS, TURN = 0, 1, 2, 3, 4
CAPACITY, SPILL = 0, 1


@kernel(VOID(IN_F8_1, IN_I4_2, IN_F8_1, IN_F8_1, OUT_I4_1))
def run_down(low: Any, ends: Any, lip: Any, sill: Any, follow: Any) -> None:
    """follow: (n,) the cell that liquid of each runs down to: out, or where it falls furthest; -1 where it stays."""
    drop = np.zeros(low.shape[0])
    follow[:] = -1
    for e in range(ends.shape[0]):
        a, b = ends[e, 0], ends[e, 1]
        if a != 0 and (b == 0 or low[b] < low[a] or (low[b] == low[a] and b < a)):
            a, b = b, a  # from b down to a
        if sill[e] <= low[b]:
            fall = 1e30 - lip[e] if a == 0 else low[b] - low[a]
            if follow[b] < 0 or fall > drop[b]:
                follow[b], drop[b] = a, fall


@kernel(I8(F8, I8, I8, IN_F8_1, IN_F8_1, IN_F8_1, IN_I8_1, OUT_I4_1, OUT_F8_2))
def flood_to(
    level: float, done: int, sign: int, volume: Any, low: Any, high: Any, order: Any, joined: Any, real: Any
) -> int:
    """Count the cells in (sign 1, `order` by their lower ends) or out of the slopes (-1, by their upper ends) that
    begin or end up to a level; returns how many of the order are done."""
    while done < order.shape[0]:
        c = order[done]
        if (low[c] if sign > 0 else high[c]) > level:
            break
        done += 1
        if c != 0:
            r, s = top_of(joined, c), volume[c] / (high[c] - low[c])
            real[r, SLOPE] += sign * s
            real[r, BASE] -= sign * s * low[c]
            if sign < 0:
                real[r, BASE] += volume[c]
    return done


@kernel(I8(I8, I8, I8, OUT_I4_2, OUT_I4_1, OUT_I4_1, OUT_I4_2))
def name_cells(comp: int, count: int, across: int, whole: Any, after: Any, home: Any, dips: Any) -> int:
    """Give the cells of a component that belong to no depression yet to its depression, a new one if it has none; that
    spills to the cell `across`. Returns how many depressions there are."""
    if whole[comp, NOW] < 0:
        whole[comp, NOW] = count
        dips[count, PARENT], dips[count, LEFT], dips[count, RIGHT], dips[count, TURN] = -1, -1, -1, -1
        count += 1
    d, c = whole[comp, NOW], whole[comp, FIRST]
    dips[d, ACROSS] = across
    while c >= 0:
        home[c] = d
        c = after[c]
    whole[comp, FIRST] = whole[comp, LAST] = -1
    return count


@kernel(VOID(I8, I8, I8, OUT_F8_2, OUT_I4_2, OUT_I4_1, OUT_I4_1))
def absorb(a: int, b: int, beyond: int, real: Any, whole: Any, after: Any, follow: Any) -> None:
    """Take a shallow component a into b: what would stay at its bottom runs on from the cell `beyond` its sill."""
    pit = whole[a, LOWEST]
    if follow[pit] < 0:
        follow[pit] = whole[b, LOWEST] if runs_to(follow, beyond, pit) == pit else beyond
    if real[b, PIT] == -np.inf:
        return
    if whole[b, FIRST] < 0:
        whole[b, FIRST] = whole[a, FIRST]
    else:
        after[whole[b, LAST]] = whole[a, FIRST]
    whole[b, LAST] = whole[a, LAST]


@kernel(
    I8(
        IN_F8_1, IN_F8_1, IN_F8_1, IN_I8_1, IN_I8_1, IN_I4_2, IN_F8_1, IN_I8_1, F8,
        OUT_I4_1, OUT_I4_1, OUT_I4_2, OUT_F8_2,
    )
)  # fmt: skip
def grow_hierarchy(
    volume: Any, low: Any, high: Any, by_low: Any, by_high: Any, ends: Any, sill: Any, by_sill: Any,
    least_depth: float, follow: Any, home: Any, dips: Any, sizes: Any,
) -> int:  # fmt: skip
    """The depressions of a direction; returns how many there are, an inner one after the two that it is made of.

    sill: height at which liquid passes each contact. by_...: orders. least_depth: shallower depressions are none.
    follow: (n,) as `run_down` gave it, goes on over the sills of those. home: (n,) the depression that each cell
    belongs to, -1 for the outside. dips: of each its PARENT (-1: spills outside or never), LEFT, RIGHT (-1 of a leaf),
    ACROSS: the cell beyond its sill (-1: none), TURN: the order in which it came to spill outside, -1 otherwise.
    sizes: CAPACITY in mm3 up to the height SPILL.
    """
    n = volume.shape[0]
    joined, after = np.arange(n).astype(np.int32), np.full(n, -1, np.int32)
    real, whole = np.zeros((n, 3)), np.empty((n, 4), np.int32)
    for c in range(n):
        home[c], real[c, PIT] = -1, low[c] if c else -np.inf
        whole[c, LOWEST], whole[c, FIRST], whole[c, LAST], whole[c, NOW] = c, c, c, -1
    count, turns, begun, ended = 0, 0, 0, 0
    for k in range(by_sill.shape[0]):
        e = by_sill[k]
        w = sill[e]
        if w == np.inf:
            break
        begun = flood_to(w, begun, 1, volume, low, high, by_low, joined, real)
        ended = flood_to(w, ended, -1, volume, low, high, by_high, joined, real)
        a, b, at_a, at_b = top_of(joined, ends[e, 0]), top_of(joined, ends[e, 1]), ends[e, 0], ends[e, 1]
        if a == b:
            continue
        if real[a, PIT] < real[b, PIT]:  # a becomes the shallower one
            a, b, at_a, at_b = b, a, at_b, at_a
        if w - real[a, PIT] < least_depth:
            absorb(a, b, at_b, real, whole, after, follow)
        else:
            count = name_cells(a, count, at_b, whole, after, home, dips)
            d = whole[a, NOW]
            sizes[d, CAPACITY], sizes[d, SPILL] = real[a, SLOPE] * w + real[a, BASE], w
            if real[b, PIT] == -np.inf:
                dips[d, TURN] = turns
                turns += 1
            else:
                count = name_cells(b, count, at_a, whole, after, home, dips)
                x = whole[b, NOW]
                sizes[x, CAPACITY], sizes[x, SPILL] = real[b, SLOPE] * w + real[b, BASE], w
                dips[count, PARENT], dips[count, LEFT], dips[count, RIGHT], dips[count, TURN] = -1, d, x, -1
                dips[d, PARENT] = dips[x, PARENT] = whole[b, NOW] = count
                count += 1
        joined[a] = b
        real[b, SLOPE] += real[a, SLOPE]
        real[b, BASE] += real[a, BASE]
    for c in range(1, n):  # what never reaches the outside
        if joined[c] == c:
            count = name_cells(c, count, -1, whole, after, home, dips)
            sizes[whole[c, NOW], CAPACITY] = sizes[whole[c, NOW], SPILL] = np.inf
    return count


@kernel(VOID(IN_I4_1, IN_I4_1, OUT_I4_1))
def find_leaves(follow: Any, home: Any, leaf: Any) -> None:
    """leaf: (n,) the depression without inner ones that liquid of each cell runs to, -1 out."""
    end = follow.copy()
    for c in range(end.shape[0]):
        if end[c] < 0:
            end[c] = c
    for c in range(end.shape[0]):
        e = top_of(end, c)
        leaf[c] = home[e] if e != 0 else -1


@kernel(VOID(IN_I4_1, IN_I4_2, OUT_I4_1))
def find_gates(leaf: Any, dips: Any, gate: Any) -> None:
    """gate: the depression without inner ones that each spills to, -1 out."""
    for d in range(gate.shape[0]):
        across, p = dips[d, ACROSS], dips[d, PARENT]
        gate[d] = leaf[across] if across >= 0 else -1
        if p >= 0:
            other = dips[p, RIGHT] if dips[p, LEFT] == d else dips[p, LEFT]
            x = gate[d]
            while x >= 0 and x != other and dips[x, PARENT] >= 0:
                x = dips[x, PARENT]
            if x != other:  # it would run back: to the deepest place beyond
                x = other
                while dips[x, RIGHT] >= 0:
                    x = dips[x, RIGHT]
                gate[d] = x
        elif gate[d] >= 0:
            x = gate[d]
            while dips[x, PARENT] >= 0:
                x = dips[x, PARENT]
            if not 0 <= dips[x, TURN] < dips[d, TURN]:
                gate[d] = -1


@kernel(F8(IN_I4_2, IN_I4_1, IN_F8_1, OUT_F8_1, I8, F8, I8))
def pour(dips: Any, gate: Any, capacity: Any, total: Any, at: int, amount: float, top: int) -> float:
    """Pour liquid into a depression below `top`, over the sills of what is full; returns what `top` cannot hold."""
    while True:
        took = min(max(capacity[at] - total[at], 0.0), amount)
        x = at
        while True:
            total[x] += took
            if x == top:
                break
            x = dips[x, PARENT]
        amount -= took
        if amount <= 0.0 or at == top:
            return amount
        p = dips[at, PARENT]
        other = dips[p, RIGHT] if dips[p, LEFT] == at else dips[p, LEFT]
        at = p if total[other] >= capacity[other] else gate[at]


@kernel(VOID(IN_F8_1, IN_F8_1, IN_F8_1, IN_I8_1, IN_I8_1, IN_I4_1, IN_F8_1, IN_I4_1, OUT_F8_1, OUT_F8_1))
def fill(
    volume: Any, low: Any, high: Any, by_low: Any, by_high: Any, home: Any, total: Any, pool: Any, level: Any,
    after: Any,
) -> None:  # fmt: skip
    """The height of each pool's surface, and what of it is in each cell: see `settle`."""
    count, n = pool.shape[0], volume.shape[0]
    slope, base = np.zeros(count), np.zeros(count)
    level[:] = np.nan
    il, ih = 0, 0
    while il < n or ih < n:
        rising = il < n and (ih >= n or low[by_low[il]] <= high[by_high[ih]])
        c = by_low[il] if rising else by_high[ih]
        z = low[c] if rising else high[c]
        il, ih = (il + 1, ih) if rising else (il, ih + 1)
        if c == 0 or home[c] < 0 or pool[home[c]] < 0:
            continue
        p = pool[home[c]]
        if not np.isnan(level[p]):
            continue
        if slope[p] > 0.0 and slope[p] * z + base[p] >= total[p]:
            level[p] = (total[p] - base[p]) / slope[p]
            continue
        s = volume[c] / (high[c] - low[c])
        slope[p] += s if rising else -s
        base[p] += -s * low[c] if rising else s * low[c] + volume[c]
    for d in range(count):
        if pool[d] == d and np.isnan(level[d]):
            level[d] = np.inf
    for c in range(n):
        after[c] = 0.0
        if c > 0 and home[c] >= 0 and pool[home[c]] >= 0:
            h = level[pool[home[c]]]
            if h >= high[c]:
                after[c] = volume[c]
            elif h > low[c]:
                after[c] = volume[c] * (h - low[c]) / (high[c] - low[c])


@kernel(F8(IN_I4_2, IN_I4_1, IN_F8_1, IN_I8_1, OUT_F8_1))
def spill(dips: Any, gate: Any, capacity: Any, roots: Any, total: Any) -> float:
    """Let what is too much for each depression spill on; returns what left. total: (d,) mm3 in each leaf, 0 in
    others."""
    out = 0.0
    for d in range(dips.shape[0]):
        if dips[d, LEFT] < 0:
            continue
        a, b = dips[d, LEFT], dips[d, RIGHT]
        for _ in range(2):
            if total[a] > capacity[a]:
                more = total[a] - capacity[a]
                total[a] = capacity[a]
                rest = pour(dips, gate, capacity, total, gate[a], more, b)
                total[b] += rest
            a, b = b, a
        # What both cannot hold stands over both.
        total[d] = total[a] + total[b]
        total[a], total[b] = min(total[a], capacity[a]), min(total[b], capacity[b])
    for k in range(roots.shape[0]):
        d = roots[k]
        if total[d] > capacity[d]:
            more, x = total[d] - capacity[d], gate[d]
            total[d] = capacity[d]
            if x < 0:
                out += more
                continue
            top = x
            while dips[top, PARENT] >= 0:
                top = dips[top, PARENT]
            rest = pour(dips, gate, capacity, total, x, more, top)
            total[top] += rest
    return out


@kernel(
    F8(
        IN_F8_1, IN_F8_1, IN_F8_1, IN_I8_1, IN_I8_1, IN_I4_1, IN_I4_1, IN_I4_2, IN_I4_1, IN_F8_1, IN_I8_1, IN_F8_1,
        OUT_I4_1, OUT_F8_1, OUT_F8_1,
    )
)  # fmt: skip
def settle(
    volume: Any, low: Any, high: Any, by_low: Any, by_high: Any, leaf: Any, home: Any, dips: Any, gate: Any,
    capacity: Any, roots: Any, liquid: Any, pool: Any, level: Any, after: Any,
) -> float:  # fmt: skip
    """Let the liquid of each cell (mm3) run down, spill and merge; returns what left.

    roots: depressions that spill outside, the last to do so first. pool: (d,) the depression whose one surface each is
    part of, -1 for none; level: (d,) height of the surface of each that is a pool; after: (n,) mm3 in each cell.
    """
    out, total = 0.0, np.zeros(dips.shape[0])
    for c in range(liquid.shape[0]):
        if leaf[c] >= 0:
            total[leaf[c]] += liquid[c]
        else:
            out += liquid[c]
    out += spill(dips, gate, capacity, roots, total)
    for d in range(dips.shape[0] - 1, -1, -1):
        p, a, b = dips[d, PARENT], dips[d, LEFT], dips[d, RIGHT]
        if p >= 0 and pool[p] >= 0:
            pool[d] = pool[p]
        elif total[d] <= 0.0:
            pool[d] = -1
        elif a < 0:
            pool[d] = d
        else:
            both = total[a] >= capacity[a] * ALMOST - 1e-9 and total[b] >= capacity[b] * ALMOST - 1e-9
            pool[d] = d if both else -1
    fill(volume, low, high, by_low, by_high, home, total, pool, level, after)
    return out
