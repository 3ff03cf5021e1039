"""Compiled loops that draw the surface between positive and negative nodes of a grid."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F8,
    IN_F4_3,
    IN_F8_1,
    IN_I8_1,
    IN_I8_2,
    OUT_F8_2,
    OUT_I4_2,
    OUT_I8_1,
    VOID,
    kernel,
)

LEAST_SHARE = 0.02
"""No crossing lies nearer to a node than this share of a step: faces keep an area, and vertices stay apart."""


@kernel(VOID(IN_F4_3, IN_I8_1, OUT_I8_1))
def count_surface(values: Any, lengths: Any, out: Any) -> None:
    """How many vertices and faces `draw_surface` writes. lengths: (256,) faces of a cell by its positive corners."""
    nz, ny, nx = values.shape
    vertices = faces = 0
    for k in range(nz - 1):
        for j in range(ny - 1):
            case = 0
            for i in range(nx):
                # Corner number: 4 for z, 2 for y, 1 for x; what was ahead in x is behind now.
                case = case >> 1 & 0x55
                case |= (values[k, j, i] > 0) << 1 | (values[k, j + 1, i] > 0) << 3
                case |= (values[k + 1, j, i] > 0) << 5 | (values[k + 1, j + 1, i] > 0) << 7
                if i == 0 or case in (0, 255):
                    continue
                faces += lengths[case]
                # The outermost nodes are all negative, so each crossing edge is an edge at the low corner of one cell.
                low = case & 1
                vertices += (low != case >> 1 & 1) + (low != case >> 2 & 1) + (low != case >> 4 & 1)
    out[0], out[1] = vertices, faces


@kernel(F8(F8, F8))
def _crossing(a: Any, b: Any) -> Any:
    """Share of the way from a node of value a to one of value b at which the value is 0."""
    return min(max(a / (a - b), LEAST_SHARE), 1.0 - LEAST_SHARE)


@kernel(VOID(IN_F4_3, IN_F8_1, F8, IN_I8_1, IN_I8_1, IN_I8_2, OUT_F8_2, OUT_I4_2))
def draw_surface(
    values: Any, origin: Any, step: Any, starts: Any, lengths: Any, table: Any, vertices: Any, faces: Any
) -> None:  # fmt: skip
    """The surface, in a table's triangles (`contour.cases`): vertices (n, 3) mm on edges of the grid, and faces (m, 3).

    The outermost nodes are negative, so it is closed. starts, lengths: (256,) rows of a case in the table; table: (t,
    3) edges of the cell, 4 times the axis and the number among the four edges along it.
    """
    nz, ny, nx = values.shape
    number = np.full((2, ny, nx, 3), -1, np.int32)
    n = m = 0
    for k in range(nz):
        here, above = k & 1, 1 - (k & 1)
        for j in range(ny):
            for i in range(nx):
                a = float(values[k, j, i])
                for axis in range(3):
                    kk, jj, ii = k + (axis == 2), j + (axis == 1), i + (axis == 0)
                    if kk >= nz or jj >= ny or ii >= nx or (a > 0) == (values[kk, jj, ii] > 0):
                        continue
                    share = _crossing(a, float(values[kk, jj, ii]))
                    for c in range(3):
                        at = (i, j, k)[c] + (share if c == axis else 0.0)
                        vertices[n, c] = origin[c] + at * step
                    number[here, j, i, axis] = n
                    n += 1
        if k == 0:
            continue
        # Cells between the slice before and this one: `above` holds the numbers of the slice before.
        for j in range(ny - 1):
            case = 0
            for i in range(nx):
                case = case >> 1 & 0x55
                case |= (values[k - 1, j, i] > 0) << 1 | (values[k - 1, j + 1, i] > 0) << 3
                case |= (values[k, j, i] > 0) << 5 | (values[k, j + 1, i] > 0) << 7
                if i == 0 or case in (0, 255):
                    continue
                for row in range(starts[case], starts[case] + lengths[case]):
                    for corner in range(3):
                        edge = table[row, corner]
                        axis, which = edge >> 2, edge & 3
                        low, high = which & 1, which >> 1
                        # The two other axes in their order: the first one's offset is the low bit.
                        di = low if axis != 0 else 0
                        dj = (low if axis == 0 else high) if axis != 1 else 0
                        dk = high if axis != 2 else 0
                        level = here if dk else above
                        faces[m, corner] = number[level, j + dj, i - 1 + di, axis]
                    m += 1
