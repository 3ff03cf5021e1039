"""Compiled loops over the voxels of rooms: runs of wide ones, the branches they lie in, and what walls hold."""

from __future__ import annotations

from typing import Any

from ventplanner.geometry.jit import (
    F8,
    I8,
    IN_F8_1,
    IN_F8_3,
    IN_I4_1,
    IN_I4_3,
    IN_I8_1,
    OUT_F8_1,
    OUT_F8_2,
    OUT_I4_1,
    OUT_I4_3,
    OUT_I8_1,
    VOID,
    kernel,
)
from ventplanner.geometry.lookup_kernels import branch_when


@kernel(I8(IN_I4_3, F8, OUT_I8_1, OUT_I4_1, OUT_I4_1))
def wide_runs(d2: Any, least: float, offsets: Any, low: Any, high: Any) -> int:
    """Vertical runs of voxels with a squared clearance of at least `least`, column (i, j) as number j * nx + i. Returns
    their number, even beyond the room in low and high.

    The rim of the grid but for its floor is wide: the way round the part. offsets: (nx * ny + 1,) out. low, high: first
    voxel of each run, and the one after its last.
    """
    nx, ny, nz = d2.shape
    n = 0
    for j in range(ny):
        for i in range(nx):
            offsets[j * nx + i] = n
            rim = i == 0 or j == 0 or i == nx - 1 or j == ny - 1
            inside = False
            for k in range(nz):
                wide = rim or k == nz - 1 or d2[i, j, k] >= least
                if wide and not inside and n < low.shape[0]:
                    low[n] = k
                if inside and not wide:
                    if n < high.shape[0]:
                        high[n] = k
                    n += 1
                inside = wide
            if inside:
                if n < high.shape[0]:
                    high[n] = nz
                n += 1
    offsets[nx * ny] = n
    return n


@kernel(I8(IN_I4_1, IN_I4_1, IN_I4_1, IN_I4_1, IN_I4_1, IN_F8_1, F8, F8, I8, I8, I8, OUT_I8_1, OUT_I4_1))
def enclosed_voxels(
    column: Any,
    low: Any,
    high: Any,
    branch_of_run: Any,
    parent: Any,
    merge: Any,
    base: float,
    size: float,
    nx: int,
    ny: int,
    nz: int,
    where: Any,
    branch: Any,
) -> int:
    """Flat numbers of the voxels of runs that lie in a branch other than the outside when their own height is reached,
    and that branch. Returns how many.

    column, low, high: (n,) of the runs, as `wide_runs` gives them. base: height of the centres of the lowest voxels.
    """
    n = 0
    for run in range(low.shape[0]):
        at = branch_of_run[run]
        j, i = column[run] // nx, column[run] % nx
        for k in range(low[run], high[run]):
            at = branch_when(at, base + k * size, parent, merge)
            if at == 0:
                break
            where[n], branch[n] = (i * ny + j) * nz + k, at
            n += 1
    return n


@kernel(VOID(IN_I8_1, I8, I8, IN_F8_1, F8, OUT_F8_2))
def centres(where: Any, ny: int, nz: int, origin: Any, size: float, points: Any) -> None:
    """Points in the middle of voxels by flat number. origin: (3,) of the first one. points: (n, 3) out."""
    for n in range(where.shape[0]):
        rest, k = where[n] // nz, where[n] % nz
        points[n, 0] = origin[0] + (rest // ny) * size
        points[n, 1] = origin[1] + (rest % ny) * size
        points[n, 2] = origin[2] + k * size


@kernel(VOID(IN_I4_3, OUT_I4_3))
def into_walls(owner: Any, spread: Any) -> None:
    """The owner of each voxel; of those without one (below 0) the highest of the six beside them, or -1."""
    nx, ny, nz = owner.shape
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                best = owner[i, j, k]
                if best < 0:
                    if i > 0:
                        best = max(best, owner[i - 1, j, k])
                    if i < nx - 1:
                        best = max(best, owner[i + 1, j, k])
                    if j > 0:
                        best = max(best, owner[i, j - 1, k])
                    if j < ny - 1:
                        best = max(best, owner[i, j + 1, k])
                    if k > 0:
                        best = max(best, owner[i, j, k - 1])
                    if k < nz - 1:
                        best = max(best, owner[i, j, k + 1])
                spread[i, j, k] = best


@kernel(VOID(IN_I4_3, IN_F8_3, OUT_F8_1))
def room_by_layer(owner: Any, room: Any, total: Any) -> None:
    """Add up `room` by owner and layer: total[owner * nz + k]. Voxels below 0 have no owner."""
    nx, ny, nz = owner.shape
    total[:] = 0.0
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                if owner[i, j, k] >= 0:
                    total[owner[i, j, k] * nz + k] += room[i, j, k]
