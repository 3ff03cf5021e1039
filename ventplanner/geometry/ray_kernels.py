"""Compiled loops for straight ways out: marching through column runs, and the faces near a line."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F8,
    IN_F8_1,
    IN_F8_2,
    IN_I4_1,
    IN_I4_2,
    IN_I8_1,
    OUT_F8_2,
    OUT_I4_1,
    OUT_I8_1,
    VOID,
    kernel,
)

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
            run = -1
            off_grid = i < 0 or j < 0 or i >= nx or j >= ny
            if not off_grid:
                column = j * nx + i
                for r in range(offsets[column], offsets[column + 1]):
                    if z0[r] > z:
                        break
                    if z < z1[r]:
                        run = r
                        break
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
                    branch = branch_of_run[run]
                    while branch > 0 and z >= merge[branch]:
                        branch = parent[branch]
                    ends[ray] = 0 if branch == 0 else 1
                break
            elif t - begun > wall_reach:
                break
            t += step


@kernel(OUT_I8_1(IN_F8_2, IN_I4_2, IN_F8_1, IN_F8_2, F8))
def faces_near_line(vertices: Any, faces: Any, origin: Any, across: Any, radius: float) -> Any:
    """Faces whose projection along a line comes within `radius` (a square) of it, as (k,) indices.

    across: (2, 3) unit vectors square to the line and to each other.
    """
    found = np.empty(faces.shape[0], np.int64)
    n = 0
    offset = np.empty(2, np.float64)
    for axis in range(2):
        offset[axis] = origin[0] * across[axis, 0] + origin[1] * across[axis, 1] + origin[2] * across[axis, 2]
    side = np.empty(vertices.shape[0], np.uint8)
    for v in range(vertices.shape[0]):
        bits = 0
        for axis in range(2):
            place = (
                vertices[v, 0] * across[axis, 0]
                + vertices[v, 1] * across[axis, 1]
                + vertices[v, 2] * across[axis, 2]
                - offset[axis]
            )
            if place < -radius:
                bits |= 1 << (2 * axis)
            elif place > radius:
                bits |= 2 << (2 * axis)
        side[v] = bits
    for f in range(faces.shape[0]):
        if side[faces[f, 0]] & side[faces[f, 1]] & side[faces[f, 2]] == 0:
            found[n] = f
            n += 1
    return found[:n].copy()
