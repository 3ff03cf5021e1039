"""What hollowing would make of a part, drawn on a coarse grid in a moment, to be cut and looked at.

The rules are those of `hollow`, and so is the field in which they are drawn; only the grid is coarser, and what is
drawn is not brought to the exact wall. What is narrower than the grid may be missing, or shown where nothing will be.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ventplanner.geometry.closest import Nearest
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import FloatArray, IntArray, Solid, box_of
from ventplanner.hollowing import field
from ventplanner.hollowing.hollow import BELOW, Posed, skins_of, values_of
from ventplanner.hollowing.rules import HollowRules
from ventplanner.hollowing.skins import Skins
from ventplanner.progress import Progress, silent

MOST_NODES: Final = 160_000
"""Of the coarse grid, as 54 each way: some tenths of a second; the exact grid often has a hundred times as many."""


@dataclass(frozen=True, eq=False)
class Preview:
    """A part as it would be hollowed, about.

    vertices, faces: the part in build axes. skins: of the hollows. part_mm3, saved_mm3: volume of the part, and about
    that of its hollows. step_mm: the coarse grid; exact_mm: the grid on which it is hollowed. dropped: hollows that are
    too small.
    """

    vertices: FloatArray
    faces: IntArray
    skins: Skins
    part_mm3: float
    saved_mm3: float
    step_mm: float
    exact_mm: float
    dropped: int

    @property
    def box(self) -> FloatArray:
        """(2, 3) lowest and highest corner of the part, build axes."""
        return box_of(self.vertices)


class Previewer:
    """A part made ready once; then it is drawn by other rules in a moment. Raises as `hollow` does."""

    def __init__(self, solid: Solid, pose: Pose, keep_solid: FaceMask | None = None) -> None:
        self._posed = Posed.of(solid, pose, keep_solid)
        self._outer: dict[str, Nearest] = {}
        self._marked = self._posed.marked
        self._nodes: tuple[tuple[float, str], field.Nodes] | None = None

    def preview(self, rules: HollowRules, progress: Progress = silent) -> Preview:
        """Draw the hollows by these rules. ParameterError if nothing is hollowed, or as `hollow`."""
        posed, side = self._posed, rules.open_side
        if side not in self._outer:
            self._outer[side] = posed.measured(rules)
        step = self._step(rules)
        if self._nodes is None or self._nodes[0] != (step, side):
            below = 0 if side == "none" else BELOW
            self._nodes = (step, side), field.Nodes.over(posed.vertices, posed.faces, step, below)
        nodes = self._nodes[1]
        values = values_of(nodes, self._outer[side], self._marked, rules, progress)
        skins, dropped = skins_of(nodes, values, rules)
        in_part = skins.vertices.copy()
        np.maximum(in_part[:, 2], 0.0, out=in_part[:, 2])  # what is open goes on below the plate
        saved = float(Skins.of(in_part, skins.faces).volumes.sum())
        return Preview(posed.vertices, posed.faces, skins, posed.part.volume, saved, step, rules.step_mm, dropped)

    def _step(self, rules: HollowRules) -> float:
        """Spacing of the coarse grid, never finer than the exact one."""
        volume = float(np.ptp(self._posed.vertices, axis=0).clip(1e-3).prod())
        return max(rules.step_mm, float((volume / MOST_NODES) ** (1.0 / 3.0)))
