"""Compiled loops for straight ways out: marching through column runs, and lines through the faces."""

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
    OUT_F8_2,
    OUT_I4_1,
    OUT_I8_1,
    VOID,
    kernel,
)
from ventplanner.geometry.lookup_kernels import branch_when, run_holding

OPEN, ENCLOSED, TOO_LONG, NO_WALL = 0, 1, 2, 3
"""How a march ends: beyond the wall there is open air, a void that is sealed at that height, no end of material within
reach, or there was no wall at all."""


@kernel(
    VOID(
        IN_F8_2, IN_F8_2, F8, F8, F8, IN_F8_1, IN_I8_1, IN_I8_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_I4_1, IN_F8_1,
        OUT_F8_2, OUT_I4_1,
    )
)  # fmt: skip
def march(
    origins: Any,
    directions: Any,
    step: float,
    void_reach: float,
    wall_reach: float,
    grid: Any,
    shape: Any,
    offsets: Any,
    z0: Any,
    z1: Any,
    branch_of_run: Any,
    parent: Any,
    merge: Any,
    wall: Any,
    ends: Any,
) -> None:
    """From void, through one wall, to void: where each ray enters and leaves the wall, within half a step and a pixel.

    grid: x0, y0, pitch. shape: nx, ny. wall: out, (k, 2) distances along the ray. ends: out, how the march ends.
    """
    x0, y0, pitch = grid[0], grid[1], grid[2]
    nx, ny = shape[0], shape[1]
    for ray in range(origins.shape[0]):
        t, phase, begun = 0.0, 0, 0.0
        ends[ray] = 3
        wall[ray, 0], wall[ray, 1] = np.inf, np.inf
        while True:
            x, y = origins[ray, 0] + t * directions[ray, 0], origins[ray, 1] + t * directions[ray, 1]
            z = origins[ray, 2] + t * directions[ray, 2]
            i, j = int(np.floor((x - x0) / pitch)), int(np.floor((y - y0) / pitch))
            off_grid = i < 0 or j < 0 or i >= nx or j >= ny
            run = -1 if off_grid else run_holding(j * nx + i, z, offsets, z0, z1)
            if phase == 0:
                if off_grid or t > void_reach:
                    break
                if run < 0:
                    phase, begun = 1, max(t - 0.5 * step, 0.0)
                    wall[ray, 0] = begun
                    ends[ray] = 2
            elif run >= 0 or off_grid:
                wall[ray, 1] = t - 0.5 * step
                ends[ray] = 0
                if run >= 0:
                    ends[ray] = 0 if branch_when(branch_of_run[run], z, parent, merge) == 0 else 1
                break
            elif t - begun > wall_reach:
                break
            t += step


BLOCK = 128
"""Faces of a block: neighbours in a file are mostly neighbours in space, so most blocks are far from most lines."""


@kernel(VOID(IN_F8_2, IN_I4_2, OUT_F8_2))
def bound_blocks(vertices: Any, faces: Any, bounds: Any) -> None:
    """Boxes of consecutive blocks of faces: bounds (blocks, 6) out, lowest then highest corner."""
    for block in range(bounds.shape[0]):
        for k in range(3):
            bounds[block, k], bounds[block, 3 + k] = np.inf, -np.inf
        for f in range(block * 128, min(faces.shape[0], (block + 1) * 128)):
            for c in range(3):
                for k in range(3):
                    x = vertices[faces[f, c], k]
                    bounds[block, k] = min(bounds[block, k], x)
                    bounds[block, 3 + k] = max(bounds[block, 3 + k], x)


@kernel(I8(IN_F8_2, IN_I4_2, IN_F8_2, IN_F8_1, IN_F8_1, OUT_I8_1))
def faces_near(vertices: Any, faces: Any, bounds: Any, low: Any, high: Any, found: Any) -> int:
    """Faces whose boxes meet the box from low to high, ascending. Returns how many there are, even beyond the room.

    bounds: boxes of the blocks of faces.
    """
    n = 0
    for block in range(bounds.shape[0]):
        far = False
        for k in range(3):
            far |= bounds[block, k] > high[k] or bounds[block, 3 + k] < low[k]
        if far:
            continue
        for f in range(block * BLOCK, min(faces.shape[0], (block + 1) * BLOCK)):
            near = True
            for k in range(3):
                a, b, c = vertices[faces[f, 0], k], vertices[faces[f, 1], k], vertices[faces[f, 2], k]
                near &= min(a, b, c) <= high[k] and max(a, b, c) >= low[k]
            if near:
                if n < found.shape[0]:
                    found[n] = f
                n += 1
    return n


@kernel(I8(IN_F8_2, IN_I4_2, IN_F8_2, IN_F8_1, IN_F8_2, IN_F8_2, OUT_I4_1, OUT_F8_1, OUT_I4_1, OUT_I4_1))
def line_crossings(
    vertices: Any,
    faces: Any,
    bounds: Any,
    origin: Any,
    frame: Any,
    offsets: Any,
    ray: Any,
    along: Any,
    step: Any,
    face: Any,
) -> int:
    """Where parallel lines cross faces, in the order of the faces. Returns how many there are, even beyond the room.

    bounds: boxes of the blocks of faces. frame: (3, 3) two unit vectors across the lines, and their direction.
    offsets: (k, 2) where each line passes the plane through the origin. ray, along, step, face: out; step is +1 where
    material begins.
    """
    low, high, shift = np.empty(2, np.float64), np.empty(2, np.float64), np.empty(3, np.float64)
    for k in range(3):
        shift[k] = origin[0] * frame[k, 0] + origin[1] * frame[k, 1] + origin[2] * frame[k, 2]
    for k in range(2):
        low[k], high[k] = offsets[:, k].min(), offsets[:, k].max()
    corner = np.empty((3, 3), np.float64)
    n = 0
    for block in range(bounds.shape[0]):
        apart = False
        for k in range(2):
            middle, reach = -shift[k], 1e-9
            for m in range(3):
                middle += 0.5 * (bounds[block, m] + bounds[block, 3 + m]) * frame[k, m]
                reach += 0.5 * (bounds[block, 3 + m] - bounds[block, m]) * abs(frame[k, m])
            apart |= middle + reach < low[k] or middle - reach > high[k]
        if apart:
            continue
        for f in range(block * 128, min(faces.shape[0], (block + 1) * 128)):
            for c in range(3):
                vertex = faces[f, c]
                for k in range(3):
                    corner[c, k] = (
                        vertices[vertex, 0] * frame[k, 0]
                        + vertices[vertex, 1] * frame[k, 1]
                        + vertices[vertex, 2] * frame[k, 2]
                        - shift[k]
                    )
            # Most faces of a block are beside all lines. A hair of room, so that rounding decides nothing here.
            beside = False
            for k in range(2):
                beside |= max(corner[0, k], corner[1, k], corner[2, k]) < low[k] - 1e-9
                beside |= min(corner[0, k], corner[1, k], corner[2, k]) > high[k] + 1e-9
            if beside:
                continue
            for r in range(offsets.shape[0]):
                ax, ay = corner[0, 0] - offsets[r, 0], corner[0, 1] - offsets[r, 1]
                bx, by = corner[1, 0] - offsets[r, 0], corner[1, 1] - offsets[r, 1]
                cx, cy = corner[2, 0] - offsets[r, 0], corner[2, 1] - offsets[r, 1]
                u, v, w = bx * cy - by * cx, cx * ay - cy * ax, ax * by - ay * bx
                if (u > 0 and v > 0 and w > 0) or (u < 0 and v < 0 and w < 0):
                    if n < ray.shape[0]:
                        ray[n], face[n] = r, f
                        along[n] = (u * corner[0, 2] + v * corner[1, 2] + w * corner[2, 2]) / (u + v + w)
                        step[n] = -1 if u > 0 else 1
                    n += 1
    return n
