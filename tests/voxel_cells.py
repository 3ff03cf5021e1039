"""Cells made by hand from voxels, without a mesh: what the hierarchy of depressions is tried on."""

from __future__ import annotations

import numpy as np

from ventplanner.draining.cells import Cells
from ventplanner.geometry.cell_kernels import N_WAYS, WAYS


def cells_of_voxels(free: np.ndarray) -> tuple[Cells, np.ndarray]:
    """Unit cubes that are free, each a cell, and (nx, ny, nz) the cell of each voxel; all around is outside."""
    number = np.zeros(np.array(free.shape) + 2, dtype=np.int32)
    inner = np.pad(free, 1)
    number[inner] = np.arange(1, free.sum() + 1)
    number[~inner] = -1
    outer = np.ones(number.shape, dtype=bool)
    outer[1:-1, 1:-1, 1:-1] = False
    number[outer] = 0
    corners = np.sign(np.round(WAYS, 9)) * 0.5
    middle = np.vstack((np.zeros(3), np.argwhere(inner) - 0.5))
    far = middle[:, None, :] + corners
    ends, rims = [], []
    for axis in range(3):
        a, b = np.moveaxis(number, axis, 0)[:-1], np.moveaxis(number, axis, 0)[1:]
        touch = (a >= 0) & (b >= 0) & (a + b > 0)
        at = np.argwhere(touch)
        at = np.insert(at[:, 1:], axis, at[:, 0], axis=1) - 0.5
        flat = corners.copy()
        flat[:, axis] = 0.0
        face = at.astype(float)
        face[:, axis] += 0.5
        ends.append(np.sort(np.stack((a[touch], b[touch]), axis=1), axis=1))
        rims.append(face[:, None, :] + flat)
    n, e = len(middle), np.concatenate(ends)
    volume = np.append(0.0, np.ones(n - 1))
    none, bored = np.full(n, -1), np.zeros(n, dtype=bool)
    rim = np.ascontiguousarray(np.concatenate(rims), dtype=np.float32).reshape(len(e), N_WAYS, 3)
    cells = Cells(
        volume,
        middle,
        none,
        bored,
        np.ascontiguousarray(far, dtype=np.float32),
        np.ascontiguousarray(e),
        np.ones(len(e)),
        rim,
        1.0,
        0.01,
    )
    return cells, number[1:-1, 1:-1, 1:-1]
