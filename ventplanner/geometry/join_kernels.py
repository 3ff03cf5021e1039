"""Compiled loops of the join tree: the order of the sweep, the sweep itself, and what is sealed at each height."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F8,
    I8,
    IN_F8_1,
    IN_I4_1,
    IN_I8_1,
    IN_U1_1,
    OUT_F8_1,
    OUT_I4_1,
    OUT_I8_1,
    OUT_U1_1,
    VOID,
    kernel,
)

_ACROSS, _UP = (-1, 1, 0, 0, -1, 1, -1, 1), (0, 0, -1, 1, -1, -1, 1, 1)
"""Steps to the columns beside one, then to those across its corners."""


@kernel(VOID(I8, I8, IN_I8_1, IN_I4_1, IN_F8_1, IN_F8_1, IN_I4_1, OUT_U1_1))
def find_quiet(
    nx: int, ny: int, offsets: Any, column_of_run: Any, z0: Any, z1: Any, branch_of_run: Any, quiet: Any
) -> None:
    """Mark the runs that start outside where they touch nothing but the outside: no event of the sweep."""
    for run in range(z0.shape[0]):
        quiet[run] = 0
        if branch_of_run[run] != 0 or z0[run] == -np.inf:
            continue
        column, z, is_quiet = column_of_run[run], z0[run], True
        i, j = column % nx, column // nx
        for side in range(4):
            x, y = i + (side == 1) - (side == 0), j + (side == 3) - (side == 2)
            if not (0 <= x < nx and 0 <= y < ny):
                continue
            near = y * nx + x
            for other in range(offsets[near], offsets[near + 1]):
                if z0[other] > z:
                    break
                if z1[other] > z and branch_of_run[other] != 0:
                    is_quiet = False
        if is_quiet:
            quiet[run] = 1


@kernel(
    I8(
        I8, IN_I8_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_U1_1, IN_I8_1, IN_F8_1, IN_F8_1, IN_I4_1,
        OUT_U1_1, OUT_I8_1, OUT_I8_1, OUT_U1_1,
    )
)  # fmt: skip
def match_columns(
    nx: int,
    offsets: Any,
    z0: Any,
    z1: Any,
    void_class: Any,
    quiet: Any,
    new_offsets: Any,
    new_z0: Any,
    new_z1: Any,
    new_class: Any,
    changed: Any,
    place: Any,
    fresh: Any,
    known: Any,
) -> int:
    """What a drill has changed: the columns, and those beside them. place: where each run of the others is in the new
    runs, -1 where it is no event. known: new runs that are outside for sure. fresh: new runs of changed columns that
    start anywhere; returns their number."""
    n_columns = offsets.shape[0] - 1
    changed[:] = 0
    for column in range(n_columns):
        begin, end, shift = offsets[column], offsets[column + 1], new_offsets[column] - offsets[column]
        same = new_offsets[column + 1] - new_offsets[column] == end - begin
        for r in range(begin, end):
            same = same and z0[r] == new_z0[r + shift] and z1[r] == new_z1[r + shift]
            same = same and void_class[r] == new_class[r + shift]
        if not same:
            for near in (column - nx, column - 1, column, column + 1, column + nx):
                if 0 <= near < n_columns:
                    changed[near] = 1
    n = 0
    for column in range(n_columns):
        shift = new_offsets[column] - offsets[column]
        for r in range(offsets[column], offsets[column + 1]):
            place[r] = -1
            if not changed[column]:
                known[r + shift] = quiet[r]
                if not quiet[r]:
                    place[r] = r + shift
        if changed[column]:
            for r in range(new_offsets[column], new_offsets[column + 1]):
                known[r] = 0
                if new_z0[r] > -np.inf:
                    fresh[n] = r
                    n += 1
    return n


@kernel(I8(IN_I8_1, IN_I8_1, IN_I8_1, IN_F8_1, OUT_I8_1))
def merge_order(order: Any, place: Any, added: Any, z0: Any, merged: Any) -> int:
    """Merge two lists of runs, each by z0, then by number: `order` at its new places, and `added`. Returns how many."""
    n, k = 0, 0
    for position in range(order.shape[0]):
        run = place[order[position]]
        if run < 0:
            continue
        while k < added.shape[0] and (z0[added[k]] < z0[run] or (z0[added[k]] == z0[run] and added[k] < run)):
            merged[n] = added[k]
            n += 1
            k += 1
        merged[n] = run
        n += 1
    while k < added.shape[0]:
        merged[n] = added[k]
        n += 1
        k += 1
    return n


@kernel(
    I8(
        I8, I8, I8, IN_I8_1, IN_I4_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_I8_1,
        IN_U1_1, OUT_I4_1, OUT_F8_1, OUT_I4_1, OUT_F8_1, OUT_I8_1, OUT_I4_1,
    )
)  # fmt: skip
def sweep(
    nx: int,
    ny: int,
    sides: int,
    offsets: Any,
    column_of_run: Any,
    z0: Any,
    z1: Any,
    void_class: Any,
    order: Any,
    known: Any,
    branch_of_run: Any,
    birth: Any,
    parent: Any,
    merge: Any,
    merge_run: Any,
    joined: Any,
) -> int:
    """Join tree of the runs, swept by rising z0 (Carr, Snoeyink & Axen 2003), elder rule. Returns the branches.

    Branch 0 is the outside: every run that starts at -inf is in it, and those that are `known` to be. `order` lists the
    others by z0; a known one that it lists joins what it touches to the outside. sides: 4 neighbours of a column, or 8.
    `joined` is the union-find forest over branches (its final state tells which branches became one).
    """
    for r in range(z0.shape[0]):
        branch_of_run[r] = 0 if z0[r] == -np.inf or known[r] else -1
    birth[0], parent[0], merge[0], merge_run[0], joined[0] = -np.inf, -1, np.inf, -1, 0
    n_branches = 1
    roots = np.empty(8, np.int32)
    for position in range(order.shape[0]):
        run = order[position]
        column = column_of_run[run]
        i, j = column % nx, column // nx
        z, klass = z0[run], void_class[run]
        n_roots, elder = 0, 0 if known[run] else -1
        for side in range(sides):
            x, y = i + _ACROSS[side], j + _UP[side]
            if not (0 <= x < nx and 0 <= y < ny):
                continue
            near = y * nx + x
            for other in range(offsets[near], offsets[near + 1]):
                if z0[other] > z:
                    break
                if z1[other] <= z:
                    continue
                if klass != void_class[other] and klass != -2 and void_class[other] != -2:
                    break
                root = branch_of_run[other]
                if root < 0:
                    break
                while joined[root] != root:
                    joined[root] = joined[joined[root]]
                    root = joined[root]
                roots[n_roots] = root
                n_roots += 1
                if elder < 0 or birth[root] < birth[elder] or (birth[root] == birth[elder] and root < elder):
                    elder = root
                break
        if elder < 0:
            elder = n_branches
            birth[elder], parent[elder], merge[elder], merge_run[elder], joined[elder] = z, -1, np.inf, -1, elder
            n_branches += 1
        for m in range(n_roots):
            root = roots[m]
            if root != elder and joined[root] == root:
                joined[root] = elder
                parent[root] = elder
                merge[root] = z
                merge_run[root] = run
        branch_of_run[run] = elder
    return n_branches


@kernel(VOID(IN_I8_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_I4_1, IN_F8_1, IN_I4_1, F8, F8, I8, OUT_F8_1, OUT_F8_1, OUT_F8_1))
def deposit(
    runs: Any,
    z0: Any,
    z1: Any,
    branch_of_run: Any,
    parent: Any,
    merge: Any,
    row_of_branch: Any,
    area: float,
    step: float,
    n_bins: int,
    volume: Any,
    top: Any,
    curve: Any,
) -> None:
    """Add each sealed piece of the listed runs to its branch's volume and top and to the curve row of its branch.

    A run belongs to its branch until that joins an older one, then to that one (so volumes add up to the integral).
    `curve` holds rows of 2 * (n_bins + 1): mean area per bin, and steps still to be summed up. Exact in z.
    """
    width = n_bins + 1
    for position in range(runs.shape[0]):
        run = runs[position]
        branch = branch_of_run[run]
        low = z0[run]
        while branch != 0 and low < z1[run]:
            high = min(z1[run], merge[branch])
            if high > low:
                volume[branch] += (high - low) * area
                top[branch] = max(top[branch], high)
                row = row_of_branch[branch] * 2 * width
                i = min(max(int(low / step), 0), n_bins - 1)
                j = min(max(int(high / step), 0), n_bins - 1)
                curve[row + i] += area * (i + 1 - low / step)
                curve[row + width + i + 1] += area
                curve[row + j] -= area * (j + 1 - high / step)
                curve[row + width + j + 1] -= area
                low = high
            branch = parent[branch]
            if branch < 0:
                break
