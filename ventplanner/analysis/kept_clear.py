"""The surface of a part that no hole may cut, in the pose in which it was analysed.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ventplanner.analysis.scene import Scene
from ventplanner.errors import MeshError
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import FloatArray
from ventplanner.geometry.tube import from_axis

KEEP_CLEAR_MM = 0.3
"""The rim of a drill stays this far from what is to be kept clear: a rim breaks out a little, and its edge is seen."""

_SPACING_MM, _MOST_POINTS = 0.5, 100_000


@dataclass(frozen=True, eq=False)
class KeptClear:
    """Marked faces of a posed part. Raises MeshError for marks of another number of faces."""

    scene: Scene
    mask: FaceMask

    def __post_init__(self) -> None:
        if self.mask.faces != len(self.scene.solid.faces):
            raise MeshError(
                f"{self.mask.faces} faces are known for the surface to be kept clear, but the part has "
                f"{len(self.scene.solid.faces)}.",
                "Mark the surface again.",
            )

    def cut_by(self, tool: Tool) -> FloatArray | None:
        """Where a drill cuts the surface, or comes nearer to it than `KEEP_CLEAR_MM`: the (3,) build point nearest to
        its axis; None where it does not."""
        reach = tool.far + KEEP_CLEAR_MM
        ends = np.array([tool.start, tool.end])
        faces = self.scene.ray_target.near(ends.min(axis=0) - reach, ends.max(axis=0) + reach)
        faces = faces[self.mask.flags[faces]]
        if not len(faces):
            return None
        corners = self.scene.vertices[self.scene.solid.faces[faces]]
        for lane in tool.lanes():
            away, at = from_axis(lane, corners)
            first = int(away.argmin())
            if away[first] < lane.radius + KEEP_CLEAR_MM:
                return np.asarray(at[first])
        return None

    def is_near(self, points: FloatArray, radius: float) -> NDArray[np.bool_]:
        """(k,) bool: build points about which a drill of this radius (mm) would probably cut the surface: for putting
        ways in order, before `cut_by` decides."""
        tree, spacing = self._points
        if tree is None:
            return np.zeros(len(points), np.bool_)
        finite = np.where(np.isfinite(points), points, 1e9)
        return np.asarray(tree.query(finite)[0] < radius + KEEP_CLEAR_MM + 0.5 * spacing)

    @cached_property
    def _points(self) -> tuple[cKDTree | None, float]:
        """Points all over the surface, about as far apart as is told (mm)."""
        corners = self.scene.vertices[self.scene.solid.faces[self.mask.chosen]]
        if not len(corners):
            return None, _SPACING_MM
        sides = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).max(axis=1)
        area = self.mask.area(self.scene.solid)
        spacing = max(_SPACING_MM, float(np.sqrt(area / _MOST_POINTS)))
        steps = np.ceil(sides / spacing).astype(np.int64).clip(1, 400)
        found = [_lattice(corners[steps == n], n) for n in np.unique(steps).tolist()]
        return cKDTree(np.concatenate(found)), spacing


def _lattice(corners: FloatArray, steps: int) -> FloatArray:
    """(p, 3) points in triangles (k, 3, 3): the middles of the small triangles of `steps` steps that stand upright."""
    i, j = np.divmod(np.arange(steps * steps), steps)
    i, j = i[i + j < steps], j[i + j < steps]
    weights = np.stack((i + 1 / 3, j + 1 / 3, steps - i - j - 2 / 3), axis=1) / steps
    points: FloatArray = np.einsum("pc,kcx->kpx", weights, corners).reshape(-1, 3)
    return points
