"""A sparse open lattice inside the hollow: struts along the four diagonals of cubic cells.

Every strut rises at 35 degrees (the angle of a cube's diagonal), so none lies level, whatever the cell, and goes on
from wall to wall. All space between the struts hangs together, in each cell and from cell to cell.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray

Values = NDArray[np.float32]


def between_struts(shape: tuple[int, int, int], origin: FloatArray, step: float, cell: float, thick: float) -> Values:
    """(nz, ny, nx) mm to the nearest strut's skin, negative in it, at the nodes of a grid.

    cell: mm, edge of a cell; thick: mm, diameter of the struts. Exact: planes through the middles and the faces of the
    cells mirror the lattice on itself: of a point folded into an eighth of a cell the nearest strut is there.
    """
    nz, ny, nx = shape
    z, y, x = (
        np.abs((origin[axis] + step * np.arange(n)) / cell % 1.0 - 0.5).astype(np.float32)
        for axis, n in ((2, nz), (1, ny), (0, nx))
    )
    out = np.empty(shape, dtype=np.float32)
    across = x[None, :] ** 2 + y[:, None] ** 2
    both = x[None, :] + y[:, None]
    for k in range(nz):  # slice by slice: no more than one slice of room is needed
        # Square of the distance to the line along (1, 1, 1): |p|^2 - (p . (1, 1, 1))^2 / 3.
        square = across + z[k] ** 2 - (both + z[k]) ** 2 / np.float32(3.0)
        out[k] = cell * np.sqrt(np.maximum(square, 0.0)) - 0.5 * thick
    return out
