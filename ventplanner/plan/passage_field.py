"""What is where around a cup, on a coarse grid: material, the outside, and the hollows of a part; for the choice among
many passages, before the best are measured exactly.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.places import Places
from ventplanner.geometry.clearance_kernels import squared_distance
from ventplanner.geometry.solid import FloatArray

IntGrid = NDArray[np.int32]
MATERIAL, OUTSIDE = -1, 0
MOST_CELLS = 400_000


@dataclass(frozen=True, eq=False)
class Field:
    """Cells of `size` mm about a place: centre of (i, j, k) at origin + (i, j, k) * size, build axes.

    label: (nx, ny, nz) int32: MATERIAL, OUTSIDE, or one more than the place of a cavity in the findings.
    """

    origin: FloatArray
    size: float
    label: IntGrid
    _known: dict[tuple[int, ...], FloatArray] = field(default_factory=dict)

    @classmethod
    def around(cls, findings: Findings, centre: FloatArray, reach: float) -> Field:
        """The cells within `reach` mm of a build point, as far as the part goes and a little further."""
        vertices = findings.scene.vertices
        low = np.maximum(centre - reach, vertices.min(axis=0) - 1.0)
        high = np.minimum(centre + reach, vertices.max(axis=0) + 1.0)
        size = max(findings.scene.runs.grid.pitch, float(np.prod(high - low) / MOST_CELLS) ** (1 / 3))
        axes = [np.arange(a, b + size, size) for a, b in zip(low, high, strict=True)]
        points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
        free = np.flatnonzero(findings.scene.runs.run_at(points) >= 0)
        label = np.full(len(points), MATERIAL, dtype=np.int32)
        label[free] = Places.of(findings).at(points[free]) + 1
        return cls(low, size, label.reshape([len(a) for a in axes]))

    def index(self, points: FloatArray) -> tuple[NDArray[np.int64], ...]:
        """Indices of the cells that hold points (..., 3), those at the rim for points beyond it."""
        at = np.rint((points - self.origin) / self.size).astype(np.int64)
        return tuple(np.moveaxis(np.clip(at, 0, np.array(self.label.shape) - 1), -1, 0))

    def at(self, points: FloatArray) -> IntGrid:
        """Labels at points (..., 3)."""
        return np.asarray(self.label[self.index(points)])

    def room(self, *own: int) -> FloatArray:
        """(nx, ny, nz) mm from each cell to the nearest free one that has none of the labels `own`."""
        return self._distance(True, *own)

    def toward(self, label: int) -> FloatArray:
        """(nx, ny, nz) mm from each cell to the nearest one of this label."""
        return self._distance(False, label)

    def _distance(self, to_others: bool, *labels: int) -> FloatArray:
        """mm from each cell to the nearest of these labels, or to the nearest free one of others. Kept: each diameter
        that is tried asks for the same ones."""
        if (key := (to_others, *labels)) in self._known:
            return self._known[key]
        listed = np.isin(self.label, labels)
        clear = (self.label == MATERIAL) | listed if to_others else ~listed
        squared = np.empty(self.label.shape, dtype=np.int32)
        squared_distance(np.ascontiguousarray(clear, dtype=np.uint8), squared)
        # The free space begins half a cell before its nearest centre.
        self._known[key] = np.maximum(np.sqrt(squared.astype(np.float64)) - 0.5, 0.0) * self.size
        return self._known[key]

    def points(self, chosen: NDArray[np.bool_]) -> FloatArray:
        """(k, 3) centres of cells."""
        return np.asarray(self.origin + np.argwhere(chosen) * self.size)
