"""The compiled loop for winding numbers at many points."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import F8, I8, IN_F8_2, IN_I4_1, IN_I4_2, OUT_I8_1, VOID, kernel


@kernel(F8(IN_F8_2, IN_I4_2, I8, F8, F8))
def _height(vertices: Any, faces: Any, f: Any, x: Any, y: Any) -> Any:
    """z of a face's plane over x, y; the mean of its corners where it is upright."""
    a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
    ux, uy, uz = vertices[b, 0] - vertices[a, 0], vertices[b, 1] - vertices[a, 1], vertices[b, 2] - vertices[a, 2]
    vx, vy, vz = vertices[c, 0] - vertices[a, 0], vertices[c, 1] - vertices[a, 1], vertices[c, 2] - vertices[a, 2]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    if nz == 0.0:
        return (vertices[a, 2] + vertices[b, 2] + vertices[c, 2]) / 3.0
    return vertices[a, 2] + ((vertices[a, 0] - x) * nx + (vertices[a, 1] - y) * ny) / nz


@kernel(VOID(IN_F8_2, IN_I4_2, IN_F8_2, IN_I4_1, IN_F8_2, OUT_I8_1))
def wind(vertices: Any, faces: Any, points: Any, start: Any, grid: Any, out: Any) -> None:
    """Add to `out` how often the faces over each point wind around it.

    points: (p, 3), in the order of the cells of a grid (`geometry.inside.on_grid`, which gives start and grid).
    An edge counts when it passes the point's y on the side of greater x, and is judged with its lower vertex first, so
    that both its faces judge it alike (`geometry.inside`).
    """
    side = int(np.sqrt(start.shape[0] - 1))
    box = np.empty(6)
    for f in range(faces.shape[0]):
        for k in range(3):
            a, b, c = vertices[faces[f, 0], k], vertices[faces[f, 1], k], vertices[faces[f, 2], k]
            box[k], box[3 + k] = min(a, b, c), max(a, b, c)
        # Clamped to the grid before they become whole numbers, so that a far vertex cannot overflow.
        i0 = int(min(max((box[0] - grid[0, 0]) * grid[1, 0], 0.0), side - 1.0))
        i1 = int(min(max((box[3] - grid[0, 0]) * grid[1, 0], 0.0), side - 1.0)) + 1
        j0 = int(min(max((box[1] - grid[0, 1]) * grid[1, 1], 0.0), side - 1.0))
        j1 = int(min(max((box[4] - grid[0, 1]) * grid[1, 1], 0.0), side - 1.0)) + 1
        for i in range(i0, i1):
            for p in range(start[i * side + j0], start[i * side + j1]):
                x, y, z = points[p, 0], points[p, 1], points[p, 2]
                if x < box[0] or x > box[3] or y < box[1] or y > box[4] or z > box[5]:
                    continue
                turn = 0
                for k in range(3):
                    a, b = faces[f, k], faces[f, (k + 1) % 3]
                    low, high = min(a, b), max(a, b)
                    lx, ly, hx, hy = vertices[low, 0], vertices[low, 1], vertices[high, 0], vertices[high, 1]
                    if (ly > y) != (hy > y) and ((hx - lx) * (y - ly) - (hy - ly) * (x - lx) > 0.0) == (hy > ly):
                        turn += 1 if (hy > ly) == (a < b) else -1
                if turn != 0 and _height(vertices, faces, f, x, y) > z:
                    out[p] += turn
