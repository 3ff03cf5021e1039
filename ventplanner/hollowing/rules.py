"""How a part is to be hollowed: frozen, complete, and valid by construction."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from ventplanner import hollow_parameters as p
from ventplanner.errors import ParameterError

_SHARE = {"coarse": 5.0, "normal": 10.0, "fine": 20.0}


@dataclass(frozen=True)
class HollowRules:
    """What the hollow is like; fields, units and ranges as the parameters of the same name say. Raises ParameterError.

    The defaults are own judgement, but for the wall (common practice, no source).
    """

    wall_mm: float = p.WALL_MM.default
    fineness: p.Fineness = p.FINENESS.default
    grid_mm: float | None = p.GRID_MM.default
    radius_mm: float = p.RADIUS_MM.default
    least_mm3: float = p.LEAST_MM3.default
    solid_below_mm: float = p.SOLID_BELOW_MM.default
    limb_mm: float = p.LIMB_MM.default
    solid_depth_mm: float = p.SOLID_DEPTH_MM.default
    open_side: p.OpenSide = p.OPEN_SIDE.default
    steepness_deg: float = p.STEEPNESS_DEG.default
    filling: p.Filling = p.FILLING.default
    cell_mm: float = p.CELL_MM.default
    strut_mm: float = p.STRUT_MM.default

    def __post_init__(self) -> None:
        for f in fields(self):
            object.__setattr__(self, f.name, p.HOLLOW_PARAMETERS[f.name].check(getattr(self, f.name)))
        if self.filling == "struts" and self.cell_mm < 3.0 * self.strut_mm:  # a ball as thick as a strut passes
            raise ParameterError(
                f"Struts of {self.strut_mm:g} mm leave no way through cells of {self.cell_mm:g} mm.",
                f"Give cells of {3.0 * self.strut_mm:g} mm or more ({p.CELL_MM.flag}).",
            )
        if self.open_side == "plate" and self.solid_below_mm > 0.0:
            raise ParameterError(
                "What stays solid at the plate cannot be open there.",
                f"Leave out {p.OPEN_SIDE.flag} or {p.SOLID_BELOW_MM.flag}.",
            )
        if self.grid_mm is not None and self.grid_mm > 0.5 * self.wall_mm:
            raise ParameterError(
                f"A grid of {self.grid_mm:g} mm is too coarse for a wall of {self.wall_mm:g} mm.",
                f"Give {0.5 * self.wall_mm:g} mm or less ({p.GRID_MM.flag}).",
            )

    @property
    def step_mm(self) -> float:
        """Spacing of the grid."""
        return self.grid_mm if self.grid_mm is not None else self.wall_mm / _SHARE[self.fineness]

    @property
    def way_through_mm(self) -> float:
        """Diameter of the largest ball that goes through the lattice from cell to cell: at the narrowest place of its
        way it is the cell's edge by the root of 8 away from the middles of the struts."""
        return float(self.cell_mm / np.sqrt(2.0) - self.strut_mm)
