"""Half-edges of a mesh: h = 3 f + k runs from corner k of face f to the next corner."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import IntArray
from ventplanner.geometry.topology import half_edge_mates
from ventplanner.geometry.topology_kernels import CROWDED, OPEN, SAME_WAY, Flags, LongArray


@dataclass(frozen=True, eq=False)
class Edges:
    """mate (3 m,) int32: the half-edge across, -1 where an edge has not exactly two faces; start and end: its vertices;
    state (3 m,) uint8 as in `topology_kernels`, on the first half-edge of an edge."""

    mate: IntArray
    state: Flags
    start: IntArray
    end: IntArray

    @classmethod
    def of(cls, faces: IntArray, n_vertices: int) -> Edges:
        """Linear time; faces that name a vertex twice have no edges."""
        mate, state = half_edge_mates(faces, n_vertices)
        return cls(mate, state, faces.reshape(-1), np.roll(faces, -1, axis=1).reshape(-1))

    @property
    def open(self) -> LongArray:
        """(k,) half-edges of edges that have one face."""
        return np.flatnonzero(self.state == OPEN)

    @property
    def crowded(self) -> bool:
        """Whether an edge has three or more faces."""
        return bool((self.state == CROWDED).any())

    @property
    def flipped(self) -> bool:
        """Whether two faces run the same way along an edge."""
        return bool((self.state == SAME_WAY).any())

    def key(self, half: NDArray[np.integer]) -> LongArray:
        """One number for the undirected edge of each half-edge."""
        a, b = self.start[half].astype(np.int64), self.end[half].astype(np.int64)
        key: LongArray = np.minimum(a, b) << 32 | np.maximum(a, b)
        return key
