"""The material between the void runs, swept from the plate: what is held, and what starts in mid-air."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.columns import Runs
from ventplanner.geometry.join_tree import JoinTree, Rise, join_tree


def material_runs(runs: Runs) -> Runs:
    """The material of the columns of a part, as runs of their own: from the end of each void run to the next one."""
    column = runs.column_of_run
    before = np.flatnonzero(column[1:] == column[:-1])
    offsets = np.zeros(runs.grid.n_columns + 1, dtype=np.int64)
    np.cumsum(np.bincount(column[before], minlength=runs.grid.n_columns), out=offsets[1:])
    classes = np.zeros(len(before), dtype=np.int32)
    return replace(runs, offsets=offsets, z0=runs.z1[before], z1=runs.z0[before + 1], void_class=classes)


def material_tree(material: Runs, held: NDArray[np.bool_]) -> JoinTree:
    """The join tree of the material by height: branch 0 is what is held, every other branch starts in mid-air.

    held: (n,) bool, runs that the plate or a support holds where they start. Columns touch across their corners, too:
    void that joins by sides and material that joins by corners are each other's complement (Rosenfeld 1970,
    "Connectivity in digital pictures"), so a slanted ridge one column wide is one ridge.
    """
    order = np.argsort(material.z0, kind="stable")
    return join_tree(material, Rise(material, order, held.astype(np.uint8)), sides=8)


def material_at_nodes(runs: Runs, first: float, step: float, count: int) -> NDArray[np.uint8]:
    """(nz, ny, nx): 1 where a column has material at the height of a node."""
    column = runs.column_of_run
    at = np.flatnonzero(column[1:] == column[:-1])
    change = np.zeros((count + 1, runs.grid.n_columns), dtype=np.int8)
    for height, sign in ((runs.z1[at], 1), (runs.z0[at + 1], -1)):
        node = np.ceil((height - first) / step).astype(np.int64).clip(0, count)
        np.add.at(change, (node, column[at]), sign)
    inside = np.cumsum(change[:-1], axis=0, dtype=np.int8).view(np.uint8)
    return inside.reshape(count, runs.grid.ny, runs.grid.nx)
