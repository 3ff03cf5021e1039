"""Compiled loops that look points up in column runs and in their join tree."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F8,
    I4,
    I8,
    IN_F8_1,
    IN_F8_2,
    IN_I4_1,
    IN_I8_1,
    OUT_I4_1,
    OUT_I8_1,
    VOID,
    kernel,
)


@kernel(I8(I8, F8, IN_I8_1, IN_F8_1, IN_F8_1))
def run_holding(column: int, z: float, offsets: Any, z0: Any, z1: Any) -> int:
    """The run of a column that holds a height (z0 <= z < z1), -1 where there is material."""
    for run in range(offsets[column], offsets[column + 1]):
        if z < z1[run]:
            return run if z0[run] <= z else -1
    return -1


@kernel(I8(F8, F8, IN_F8_1, IN_I8_1))
def column_holding(x: float, y: float, frame: Any, shape: Any) -> int:
    """Number of the column over a point; off the grid it is the nearest one of the rim.

    frame: x0, y0, pitch. shape: nx, ny.
    """
    nx, ny = int(shape[0]), int(shape[1])
    i = min(max(np.floor((x - frame[0]) / frame[2]), 0.0), nx - 1.0)
    j = min(max(np.floor((y - frame[1]) / frame[2]), 0.0), ny - 1.0)
    return int(j) * nx + int(i)


@kernel(VOID(IN_I8_1, IN_F8_1, IN_I8_1, IN_F8_1, IN_F8_1, OUT_I8_1))
def runs_holding(columns: Any, z: Any, offsets: Any, z0: Any, z1: Any, found: Any) -> None:
    """`run_holding` of each of (k,) columns and heights."""
    for k in range(columns.shape[0]):
        found[k] = run_holding(columns[k], z[k], offsets, z0, z1)


@kernel(I4(I4, F8, IN_I4_1, IN_F8_1))
def branch_when(branch: int, z: float, parent: Any, merge: Any) -> int:
    """The branch that one has become by the time a height is reached."""
    while branch > 0 and z >= merge[branch]:
        branch = parent[branch]
    return branch


@kernel(
    VOID(IN_F8_2, IN_F8_1, IN_I8_1, IN_I8_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_I4_1, IN_F8_1, OUT_I4_1)
)  # fmt: skip
def branches_holding(
    points: Any,
    frame: Any,
    shape: Any,
    offsets: Any,
    z0: Any,
    z1: Any,
    branch_of_run: Any,
    parent: Any,
    merge: Any,
    found: Any,
) -> None:
    """The branch of the join tree that each of (k, 3) points lies in when its own height is reached, -1 in material.

    frame, shape: as `column_holding` takes them.
    """
    for k in range(points.shape[0]):
        z = points[k, 2]
        run = run_holding(column_holding(points[k, 0], points[k, 1], frame, shape), z, offsets, z0, z1)
        found[k] = branch_when(branch_of_run[run], z, parent, merge) if run >= 0 else -1
