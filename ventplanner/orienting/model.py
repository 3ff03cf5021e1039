"""What a search for an orientation found."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ventplanner import orient_parameters as p
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import FloatArray

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Wanted:
    """What is looked for, as the parameters say. Raises ParameterError."""

    resting: p.Resting = p.RESTING.default
    candidates: int = p.CANDIDATES.default

    def __post_init__(self) -> None:
        for f in fields(self):
            object.__setattr__(self, f.name, p.ORIENT_PARAMETERS[f.name].check(getattr(self, f.name)))


@dataclass(frozen=True)
class Figures:
    """What an orientation costs. Lower is better for all of them.

    With the holes that are proposed for it: vents, how many; unserved, cups that none was found for; peak_suction_pa,
    peak_overpressure_pa, of the worst room once a way into it is complete; left_mm3, resin that stays in its cavities
    when it drains as it hangs or plate side down, whichever leaves less in each; seen, share of the views from around
    in which a hole is seen, 0 to 1, and 0 without holes. As the part came: sealed_mm3, void printed while it was
    sealed off, layer by layer; sealed_area_mm2, the largest sealed area of one layer; islands, pieces that begin in
    mid-air in its cavities; overhang_mm2, ceilings of its cavities that are too flat to hold themselves; height_mm, of
    the print, with the gap below it on supports; largest_section_mm2, of the material in one layer. A figure that was
    not worked out is None.
    """

    vents: int
    unserved: int
    peak_suction_pa: float | None
    peak_overpressure_pa: float | None
    sealed_mm3: float
    sealed_area_mm2: float
    left_mm3: float | None
    seen: float | None
    islands: int
    overhang_mm2: float
    height_mm: float
    largest_section_mm2: float


@dataclass(frozen=True)
class Candidate:
    """An orientation and what it costs, worked out in full. face_mm2: area of the flat place that rests on the plate,
    0 on supports."""

    pose: Pose
    figures: Figures
    face_mm2: float = 0.0


@dataclass(frozen=True, eq=False)
class Map:
    """Coarse figures all over the sphere, of the part on supports. to_plate: (n, 3) unit vectors in the file's axes,
    closer together round good ones. figures: of each name of `Figures` that is known coarsely (n,) float64. on_front:
    (n,) bool, whether no other direction is better in one figure and as good in all others.

    Suction, overpressure and resin left are not among them: they depend on where exactly holes can be. Estimated from
    sealed area and number of vents, suction went with the full figure by a rank correlation of 0.1 to 0.6, and in one
    direction of ten nothing told that a small room has no way in at all (240 directions of six samples)."""

    to_plate: FloatArray
    figures: dict[str, FloatArray]
    on_front: Flags


@dataclass(frozen=True, eq=False)
class Search:
    """present: the orientation the part has now. candidates: the short list, best first; clearly different ones, each
    worked out in full. map: what the list was chosen from. corners: (k, 3) of the part's convex hull, along the file's
    axes. is_bare: the part's own file has supports, which count in the present orientation alone."""

    present: Candidate
    candidates: tuple[Candidate, ...]
    map: Map
    corners: FloatArray
    is_bare: bool = False
