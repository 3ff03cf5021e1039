"""Lines of sight through a part: what each of many rays meets first, exactly, with a tree of boxes over the faces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.rays import Target
from ventplanner.geometry.sight_kernels import LEAF, bound_tree, first_met
from ventplanner.geometry.solid import FloatArray, IntArray

LEAST_MM = 1e-6
"""What lies nearer than this to a ray's origin is the skin that it starts on."""


@dataclass(frozen=True, eq=False)
class Sight:
    """A mesh made ready for many single rays. bounds: boxes of a full binary tree over the target's faces, which are in
    spatial order."""

    target: Target
    bounds: FloatArray

    @classmethod
    def of(cls, target: Target) -> Sight:
        """Bound the faces; some 50 ms for a million."""
        leaves = 1
        while leaves * LEAF < len(target.faces):
            leaves *= 2
        bounds = np.empty((2 * leaves - 1, 6))
        bound_tree(target.vertices, target.faces, bounds)
        return cls(target, bounds)

    def first(
        self, origins: FloatArray, directions: FloatArray, reach: FloatArray | float = np.inf
    ) -> tuple[FloatArray, IntArray]:
        """What each ray meets first: (k,) mm along it, inf for nothing within `reach` mm; (k,) face of the mesh, or -1.

        origins: (k, 3) mm. directions: (k, 3) unit.
        """
        n = len(origins)
        along, met = np.empty(n), np.empty(n, dtype=np.int32)
        first_met(
            self.target.vertices,
            self.target.faces,
            self.bounds,
            np.ascontiguousarray(origins, dtype=np.float64),
            np.ascontiguousarray(directions, dtype=np.float64),
            LEAST_MM,
            np.ascontiguousarray(np.broadcast_to(np.asarray(reach, dtype=np.float64), (n,))),
            along,
            met,
        )
        return along, np.where(met >= 0, self.target.number[np.maximum(met, 0)], -1).astype(np.int32)
