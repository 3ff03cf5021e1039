"""Which faces of a mesh are wound alike: the two camps of each of its pieces."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.side_kernels import label_sides
from ventplanner.geometry.solid import IntArray

Flags = NDArray[np.bool_]


def camps(neighbour: IntArray, agrees: Flags) -> tuple[IntArray, Flags, Flags]:
    """(m,) the piece of each face, numbered by first faces; (m,) bool, faces wound against the first one of theirs.

    And (n,) bool, pieces on which no choice of windings agrees (a Moebius band).

    neighbour: (m, 3) the face across each side, -1 for none. agrees: (m, 3) bool, whether the windings agree there.
    """
    m = len(neighbour)
    piece, over, twisted = np.full(m, -1, np.int32), np.zeros(m, np.uint8), np.zeros(m, np.uint8)
    sides = np.ascontiguousarray(neighbour, dtype=np.int32), np.ascontiguousarray(agrees).view(np.uint8)
    n = label_sides(*sides, piece, over, twisted, np.empty(m, np.int32))
    return piece, over.view(np.bool_), twisted[:n].view(np.bool_)
