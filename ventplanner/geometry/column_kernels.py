"""Compiled loops for column runs: scan conversion, column sorting, void runs, and adding drilled intervals."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F8,
    I8,
    IN_F8_1,
    IN_F8_2,
    IN_I4_1,
    IN_I4_2,
    IN_I8_1,
    OUT_F8_1,
    OUT_I4_1,
    OUT_I8_1,
    OUT_U1_1,
    VOID,
    kernel,
)

SUBPIXEL_BITS = 14
"""A pixel is 2**14 integer units wide: snapping moves a vertex by less than pitch / 32768."""

THINNEST_VOID_MM = 1e-4
"""Faces that lie on each other are met at slightly different heights (snapping, rounding): a void or an overlap thinner
than this, a hundredth of the finest layer, is none."""


@kernel(I8(F8, F8, F8))
def subpixel(x: float, origin: float, scale: float) -> int:
    """A coordinate in mm as whole subpixels from the origin: the same vertex gives the same one in every face."""
    return int(np.floor((x - origin) * scale + 0.5))


@kernel(VOID(IN_F8_2, IN_I4_2, IN_I4_1, IN_I8_1, IN_F8_1, I8, I8, I8, OUT_I8_1, OUT_F8_1, OUT_I4_1, OUT_I4_1))
def scan_faces(
    vertices: Any,
    faces: Any,
    skin_of_face: Any,
    axes: Any,
    grid: Any,
    nx: int,
    ny: int,
    fill: int,
    cursor: Any,
    crossing_z: Any,
    crossing_step: Any,
    crossing_skin: Any,
) -> None:
    """Visit every pixel centre inside each face's projection; count (fill = 0), store (1) or list (2) the crossings.

    Integer edge functions with the top-left rule (Pineda 1988, "A parallel algorithm for polygon rasterization"):
    a centre on a shared edge belongs to exactly one of the two faces, so a closed skin always crosses an even number
    of times. axes: which coordinates are x, y and z (a right-handed order). grid: x0, y0, subpixels per mm; vertices
    are rounded to whole subpixels. `cursor` (columns,) holds counts, or the next free place of each column. A list is
    for few columns and many faces, in one pass: `cursor[0]` counts, step is step * (column + 1), and what finds no
    room is only counted.
    """
    kx, ky, kz = axes[0], axes[1], axes[2]
    x0, y0, scale = grid[0], grid[1], grid[2]
    unit, half = 1 << 14, 1 << 13
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ax = subpixel(vertices[a, kx], x0, scale)
        bx = subpixel(vertices[b, kx], x0, scale)
        cx = subpixel(vertices[c, kx], x0, scale)
        # First and last pixel whose centre (i * unit + half) lies in the bounding box.
        i0, i1 = (min(ax, bx, cx) + half - 1) >> 14, (max(ax, bx, cx) - half) >> 14
        if i0 > i1:
            continue
        ay = subpixel(vertices[a, ky], y0, scale)
        by = subpixel(vertices[b, ky], y0, scale)
        cy = subpixel(vertices[c, ky], y0, scale)
        j0, j1 = (min(ay, by, cy) + half - 1) >> 14, (max(ay, by, cy) - half) >> 14
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if j0 > j1 or area == 0:
            continue
        step = -1  # projected counter-clockwise: the face looks up, material ends here
        za, zb, zc = vertices[a, kz], vertices[b, kz], vertices[c, kz]
        if area < 0:
            step, area = 1, -area
            bx, by, cx, cy = cx, cy, bx, by
            zb, zc = zc, zb
        i0, i1, j0, j1 = max(i0, 0), min(i1, nx - 1), max(j0, 0), min(j1, ny - 1)
        ux, uy, vx, vy, wx, wy = cx - bx, cy - by, ax - cx, ay - cy, bx - ax, by - ay
        # An edge that is neither left nor top does not own the centres that lie on it.
        u_open = 0 if (uy < 0 or (uy == 0 and ux < 0)) else 1
        v_open = 0 if (vy < 0 or (vy == 0 and vx < 0)) else 1
        w_open = 0 if (wy < 0 or (wy == 0 and wx < 0)) else 1
        px = i0 * unit + half
        for j in range(j0, j1 + 1):
            py = j * unit + half
            u = ux * (py - by) - uy * (px - bx)
            v = vx * (py - cy) - vy * (px - cx)
            w = wx * (py - ay) - wy * (px - ax)
            for i in range(i0, i1 + 1):
                if u >= u_open and v >= v_open and w >= w_open:
                    column = j * nx + i
                    slot = column if fill != 2 else 0
                    k = cursor[slot]
                    if fill and k < crossing_z.shape[0]:
                        crossing_z[k] = (u * za + v * zb + w * zc) / area
                        crossing_step[k] = step if fill == 1 else step * (column + 1)
                        crossing_skin[k] = skin_of_face[f]
                    cursor[slot] = k + 1
                u -= uy * unit
                v -= vy * unit
                w -= wy * unit


@kernel(VOID(IN_I8_1, OUT_F8_1, OUT_I4_1, OUT_I4_1, OUT_U1_1))
def sort_columns(offsets: Any, crossing_z: Any, crossing_step: Any, crossing_skin: Any, bad: Any) -> None:
    """Sort the crossings of each column by z in place (insertion sort: columns are short); flag open windings.

    At equal z entering comes before leaving, so bodies that touch are one and a gap of no height is none.
    """
    for column in range(offsets.shape[0] - 1):
        first, last = offsets[column], offsets[column + 1]
        winding = 0
        for k in range(first, last):
            z, step, skin = crossing_z[k], crossing_step[k], crossing_skin[k]
            winding += step
            m = k - 1
            while m >= first and (crossing_z[m] > z or (crossing_z[m] == z and crossing_step[m] < step)):
                crossing_z[m + 1] = crossing_z[m]
                crossing_step[m + 1] = crossing_step[m]
                crossing_skin[m + 1] = crossing_skin[m]
                m -= 1
            crossing_z[m + 1] = z
            crossing_step[m + 1] = step
            crossing_skin[m + 1] = skin
        bad[column] = 1 if winding != 0 else 0


@kernel(I8(IN_I8_1, IN_F8_1, IN_I4_1, IN_I4_1, IN_I8_1, OUT_I8_1, OUT_F8_1, OUT_F8_1, OUT_I4_1, OUT_I4_1, OUT_F8_1))
def void_runs(
    offsets: Any,
    crossing_z: Any,
    crossing_step: Any,
    crossing_skin: Any,
    stand_in: Any,
    run_offsets: Any,
    z0: Any,
    z1: Any,
    floor_skin: Any,
    ceiling_skin: Any,
    overlap: Any,
) -> int:
    """Void runs of every column, from -inf to +inf, with the skins that bound them (-1: nothing). Returns their number.

    Material is where the winding number w is positive. `stand_in[column]` is the column whose crossings are used (the
    column itself, or for a damaged one its nearest sound neighbour). overlap: out, (5,) length in all columns counted
    w - 1 times where w > 1, and -w times where w < 0; the longest such stretch, its column and its middle.
    """
    n = 0
    overlap[:] = 0.0
    for column in range(offsets.shape[0] - 1):
        run_offsets[column] = n
        start = -np.inf
        floor = -1
        winding = 0
        source = stand_in[column]
        for k in range(offsets[source], offsets[source + 1]):
            before = winding
            if before > 1 or before < 0:
                length = crossing_z[k] - crossing_z[k - 1]
                if length > THINNEST_VOID_MM:
                    if before > 1:
                        overlap[0] += length * (before - 1)
                    else:
                        overlap[1] -= length * before
                    if length > overlap[2]:
                        overlap[2], overlap[3] = length, column
                        overlap[4] = 0.5 * (crossing_z[k] + crossing_z[k - 1])
            winding += crossing_step[k]
            if before <= 0 and winding > 0:
                if crossing_z[k] - start > THINNEST_VOID_MM:
                    z0[n], z1[n], floor_skin[n], ceiling_skin[n] = start, crossing_z[k], floor, crossing_skin[k]
                    n += 1
            elif before > 0 and winding <= 0:
                start = crossing_z[k]
                floor = crossing_skin[k]
        z0[n], z1[n], floor_skin[n], ceiling_skin[n] = start, np.inf, floor, -1
        n += 1
    run_offsets[offsets.shape[0] - 1] = n
    return n


@kernel(
    I8(
        IN_I8_1, IN_F8_1, IN_F8_1, IN_I4_1,
        IN_I8_1, IN_F8_1, IN_F8_1,
        OUT_I8_1, OUT_F8_1, OUT_F8_1, OUT_I4_1,
    )
)  # fmt: skip
def add_intervals(
    offsets: Any,
    z0: Any,
    z1: Any,
    void_class: Any,
    cut_offsets: Any,
    cut0: Any,
    cut1: Any,
    new_offsets: Any,
    new0: Any,
    new1: Any,
    new_class: Any,
) -> int:
    """Union of the void runs of every column with drilled intervals (sorted, disjoint per column). Returns the number.

    A run that a drill touches gets class -2 (it may join anything).
    """
    n = 0
    for column in range(offsets.shape[0] - 1):
        new_offsets[column] = n
        r, r_end = offsets[column], offsets[column + 1]
        k, k_end = cut_offsets[column], cut_offsets[column + 1]
        while r < r_end or k < k_end:
            take_run = k >= k_end or (r < r_end and z0[r] <= cut0[k])
            if take_run:
                low, high, klass = z0[r], z1[r], void_class[r]
                r += 1
            else:
                low, high, klass = cut0[k], cut1[k], -2
                k += 1
            grown = True
            while grown:
                grown = False
                if k < k_end and cut0[k] <= high:
                    high = max(high, cut1[k])
                    klass = -2
                    k += 1
                    grown = True
                if r < r_end and z0[r] <= high:
                    high = max(high, z1[r])
                    r += 1
                    grown = True
            new0[n], new1[n], new_class[n] = low, high, klass
            n += 1
    new_offsets[offsets.shape[0] - 1] = n
    return n
