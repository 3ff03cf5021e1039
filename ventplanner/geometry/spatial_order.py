"""Faces in an order in which neighbours in number are neighbours in space."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

BITS = 10
"""Each axis of the part is divided into 2^10 steps: blocks of faces are larger than that."""

_SPREAD = ((16, 0x030000FF), (8, 0x0300F00F), (4, 0x030C30C3), (2, 0x09249249))


def morton_order(vertices: NDArray[np.float64], faces: NDArray[np.int32]) -> NDArray[np.int64]:
    """(m,) the order of the faces along the Z-curve through their centroids (Morton 1966). vertices: (n, 3) mm."""
    code = np.zeros(len(faces), dtype=np.uint32)
    for axis in range(3):
        at = vertices[:, axis]
        low, extent = float(at.min()), max(float(np.ptp(at)), 1e-300)
        steps = ((at - low) * ((2**BITS - 1) / extent)).astype(np.uint32)
        middle = (steps[faces[:, 0]] + steps[faces[:, 1]] + steps[faces[:, 2]]) // np.uint32(3)
        code |= _spread(middle) << np.uint32(axis)
    return np.argsort(code, kind="stable")


def ordered(vertices: NDArray[np.float64], faces: NDArray[np.int32]) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """(m, 3) faces in `morton_order`, and (m,) the number that each had."""
    number = morton_order(vertices, faces).astype(np.int32)
    return faces[number], number


def _spread(x: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """Two zero bits between the ten bits of each number."""
    for shift, mask in _SPREAD:
        x = (x | (x << np.uint32(shift))) & np.uint32(mask)
    return x
