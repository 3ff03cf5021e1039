"""Compiled loops on the voxel grid of the free space: exact Euclidean distance, and the tree of chambers."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F8,
    I8,
    IN_F8_1,
    IN_I4_1,
    IN_I4_3,
    IN_I8_1,
    IN_U1_1,
    IN_U1_3,
    OUT_F8_3,
    OUT_I4_1,
    OUT_I4_3,
    OUT_I8_1,
    VOID,
    kernel,
)

FAR = 1 << 28
"""Squared distance where there is no material on the line yet; sums of it stay within int32."""


@kernel(VOID(IN_U1_3, OUT_I4_3))
def squared_distance(free: Any, d2: Any) -> None:
    """Squared distance, in voxels, of each free voxel centre to the nearest centre that is not free; 0 there.

    Exact; separable lower envelopes of parabolas (Felzenszwalb & Huttenlocher 2012, "Distance transforms of sampled
    functions", algorithm 1). free, d2: (nx, ny, nz).
    """
    nx, ny, nz = free.shape
    for i in range(nx):
        for j in range(ny):
            gap = 1 << 14
            for k in range(nz):
                gap = 0 if free[i, j, k] == 0 else gap + 1
                d2[i, j, k] = gap
            gap = 1 << 14
            for k in range(nz - 1, -1, -1):
                gap = 0 if free[i, j, k] == 0 else gap + 1
                least = min(gap, d2[i, j, k])
                d2[i, j, k] = least * least
    longest = max(nx, ny) + 1
    value, at, edge = np.empty(longest, np.int64), np.empty(longest, np.int64), np.empty(longest + 1, np.float64)
    for axis in range(2):
        n = ny if axis == 0 else nx
        for a in range(nx if axis == 0 else ny):
            for k in range(nz):
                top = -1
                for q in range(n):
                    f = d2[a, q, k] if axis == 0 else d2[q, a, k]
                    value[q] = f
                    while top >= 0:
                        p = at[top]
                        cross = ((f + q * q) - (value[p] + p * p)) / (2.0 * (q - p))
                        if cross > edge[top]:
                            break
                        top -= 1
                    top += 1
                    at[top] = q
                    edge[top] = -1e30 if top == 0 else cross
                edge[top + 1] = 1e30
                m = 0
                for q in range(n):
                    while edge[m + 1] < q:
                        m += 1
                    best = min((q - at[m]) * (q - at[m]) + value[at[m]], 1 << 28)
                    if axis == 0:
                        d2[a, q, k] = best
                    else:
                        d2[q, a, k] = best


@kernel(VOID(IN_I4_1, IN_F8_1, IN_F8_1, IN_U1_1, I8, I8, F8, OUT_F8_3))
def free_lengths(column: Any, z0: Any, z1: Any, is_open: Any, nx: int, stride: int, size: float, room: Any) -> None:
    """Free length of all columns of each voxel's block within the voxel, in heights of voxels; exact in z.

    column: (n,) of the runs, j * nx + i. is_open: (n,) which of them count. stride: columns to a voxel, which is `size`
    wide. room: (nx, ny, nz) out; its rim is empty. Voxel k reaches from (k - 1.5) size to (k - 0.5) size.
    """
    nz = room.shape[2]
    whole = np.zeros(room.shape, np.float32)  # counts of ends: exact
    room[:] = 0.0
    for run in range(column.shape[0]):
        if not is_open[run]:
            continue
        i, j = column[run] % nx // stride + 1, column[run] // nx // stride + 1
        for end in range(2):
            # A run adds the share of its first voxel above its lower end and one for each further voxel, less the same
            # from its upper end on.
            sign = 1.0 - 2.0 * end
            at = min(max((z1[run] if end else z0[run]) / size + 1.5, 0.0), float(nz))
            k = min(int(at), nz - 1)
            room[i, j, k] += sign * (k + 1 - at)
            if k + 1 < nz:
                whole[i, j, k + 1] += sign
    for i in range(room.shape[0]):
        for j in range(room.shape[1]):
            total = 0.0
            for k in range(nz):
                total += whole[i, j, k]
                room[i, j, k] = max(room[i, j, k] + total, 0.0)


@kernel(OUT_I8_1(IN_I4_3, OUT_I4_3))
def fall(d2: Any, label: Any) -> Any:
    """Flat numbers of the free voxels inside the grid by falling clearance (counting sort), labels made ready.

    label: -1 everywhere but on the free faces of the grid, which are the outside, 0.
    """
    nx, ny, nz = d2.shape
    highest = 0
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                highest = max(highest, d2[i, j, k])
    start = np.zeros(highest + 2, np.int64)
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                rim = i == 0 or j == 0 or k == 0 or i == nx - 1 or j == ny - 1 or k == nz - 1
                label[i, j, k] = 0 if d2[i, j, k] > 0 and rim else -1
                if d2[i, j, k] > 0 and not rim:
                    start[highest - d2[i, j, k] + 1] += 1
    for level in range(1, highest + 2):
        start[level] += start[level - 1]
    order = np.empty(start[highest + 1], np.int64)
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                if d2[i, j, k] > 0 and label[i, j, k] < 0:
                    level = highest - d2[i, j, k]
                    order[start[level]] = (i * ny + j) * nz + k
                    start[level] += 1
    return order


@kernel(I8(IN_I8_1, IN_I4_3, OUT_I4_3, OUT_I4_1, OUT_I4_1, OUT_I4_1, OUT_I4_1, OUT_I8_1))
def chamber_tree(
    order: Any, d2: Any, label: Any, peak: Any, parent: Any, toward: Any, saddle: Any, peak_at: Any
) -> int:
    """Merge tree of the free space swept by falling clearance, and its watershed. Returns the number of branches.

    Branch 0 is the outside. A voxel joins the branch of its neighbour with the greatest clearance (steepest ascent;
    the chamber and throat split of Gostick 2017, Phys. Rev. E 96, 023307); when two branches meet, the one with the
    smaller peak ends there (elder rule). order, label: as `fall` gives them; label becomes the branch of each voxel.
    peak, saddle: squared clearance at the widest place of a branch and where it ended (-1: never). parent: the branch
    it ended in; toward: the branch whose voxels it met there (a fold at the far end of a chamber ends in the outside
    once the chamber has, but lies in the chamber). peak_at: flat voxel numbers.
    """
    _, ny, nz = d2.shape
    joined = np.zeros(peak.shape[0], np.int32)
    roots, met, room = np.empty(6, np.int64), np.empty(6, np.int64), np.empty(6, np.int64)
    peak[0], parent[0], toward[0], saddle[0], peak_at[0] = 1 << 30, -1, -1, -1, -1
    count = 1
    for flat in order:
        k, j, i = flat % nz, (flat // nz) % ny, flat // (nz * ny)
        n_roots, best, elder = 0, -1, -1
        for side in range(6):
            a = i + (1 if side == 0 else 0) - (1 if side == 1 else 0)
            b = j + (1 if side == 2 else 0) - (1 if side == 3 else 0)
            c = k + (1 if side == 4 else 0) - (1 if side == 5 else 0)
            branch = label[a, b, c]
            if branch < 0:
                continue
            if d2[a, b, c] > best:
                best = d2[a, b, c]
                label[i, j, k] = branch
            root = branch
            while joined[root] != root:
                joined[root] = joined[joined[root]]
                root = joined[root]
            roots[n_roots], met[n_roots], room[n_roots] = root, branch, d2[a, b, c]
            n_roots += 1
            if elder < 0 or peak[root] > peak[elder] or (peak[root] == peak[elder] and root < elder):
                elder = root
        if elder < 0:
            label[i, j, k] = count
            peak[count], parent[count], toward[count], saddle[count] = d2[i, j, k], -1, -1, -1
            peak_at[count], joined[count] = flat, count
            count += 1
        for m in range(n_roots):
            root = roots[m]
            if root != elder and joined[root] == root:
                widest = -1
                for other in range(n_roots):
                    if roots[other] == elder and room[other] > widest:
                        widest, toward[root] = room[other], met[other]
                joined[root] = elder
                parent[root], saddle[root] = elder, d2[i, j, k]
    return count


@kernel(I8(IN_I8_1, IN_I4_3, OUT_I4_3))
def flood(order: Any, d2: Any, label: Any) -> int:
    """Give every voxel without a label (-1) that of its widest labelled neighbour, by falling clearance: a watershed
    from seeds (Vincent & Soille 1991, IEEE Trans. PAMI 13, 583). Returns how many got one; call until none does.

    order: flat numbers of the voxels by falling d2. Labels below -1 are walls and stay.
    """
    nx, ny, nz = d2.shape
    given = 0
    for flat in order:
        k, j, i = flat % nz, (flat // nz) % ny, flat // (nz * ny)
        if label[i, j, k] != -1:
            continue
        best = -1
        for side in range(6):
            a = i + (1 if side == 0 else 0) - (1 if side == 1 else 0)
            b = j + (1 if side == 2 else 0) - (1 if side == 3 else 0)
            c = k + (1 if side == 4 else 0) - (1 if side == 5 else 0)
            if a < 0 or b < 0 or c < 0 or a >= nx or b >= ny or c >= nz:
                continue
            if label[a, b, c] >= 0 and d2[a, b, c] > best:
                best = d2[a, b, c]
                label[i, j, k] = label[a, b, c]
        if best >= 0:
            given += 1
    return given
