"""The part hollowed, as an edit: the part itself is another one from then on. What came of it, as plain values."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ventplanner.app.closing_openings import carried
from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState
from ventplanner.geometry.solid import Solid

if TYPE_CHECKING:
    from ventplanner.hollowing.hollow import Hollowed


@dataclass(frozen=True)
class HollowFacts:
    """What came of hollowing a part. Lengths mm, areas mm2, volumes mm3.

    hollows_mm3: of each hollow, largest first. dropped: hollows that were too small. wall_mm: as asked; least_mm: no
    point of the inside is nearer to the skin (proved); mean_mm: on average where the wall alone decides, which is true
    of this share of the inside. way_through_mm: diameter of a ball that passes the lattice, None without one. is_open:
    the hollow goes out at the plate. notes: what else happened, as sentences. before_mm2, after_mm2: material
    in each layer of layer_mm, from the lowest.
    """

    wall_mm: float
    least_mm: float
    mean_mm: float
    share: float
    hollows_mm3: tuple[float, ...]
    dropped: int
    part_mm3: float
    largest_before_mm2: float
    largest_after_mm2: float
    way_through_mm: float | None
    is_open: bool
    grid_mm: float
    memory_mb: float
    notes: tuple[str, ...]
    layer_mm: float = 0.25
    before_mm2: tuple[float, ...] = ()
    after_mm2: tuple[float, ...] = ()

    @classmethod
    def of(cls, done: Hollowed) -> HollowFacts:
        """Of a part that was hollowed."""
        from ventplanner.hollowing.sections import LAYER_MM

        before, after = done.sections.largest
        rules = done.rules
        return cls(
            rules.wall_mm,
            done.wall_least_mm,
            done.wall_mean_mm,
            done.wall_share,
            done.hollow_mm3,
            done.dropped,
            done.part_mm3,
            before,
            after,
            None if rules.filling == "none" else rules.way_through_mm,
            rules.open_side == "plate",
            done.grid_mm,
            done.memory_mb,
            done.notes,
            LAYER_MM,
            tuple(done.sections.before.tolist()),
            tuple(done.sections.after.tolist()),
        )

    @property
    def saved_mm3(self) -> float:
        """Resin saved."""
        return sum(self.hollows_mm3)

    @property
    def proved_mm(self) -> float:
        """The least wall to a thousandth of a mm, never more than it is."""
        return math.floor(1000.0 * self.least_mm) / 1000.0

    def weight_g(self, density_kg_m3: float) -> float:
        """Weight of the resin saved."""
        return 1e-6 * density_kg_m3 * self.saved_mm3


def hollow_part(state: AppState, solid: Solid, facts: HollowFacts) -> Edit:
    """Take the hollowed part. The plan is kept, and has to be looked up again; marks of what is to be kept clear stay
    on the triangles that are still there."""
    note = (
        f"The part was hollowed: a wall of {facts.wall_mm:g} mm, nowhere under {facts.proved_mm:.3f} mm;"
        f" {facts.saved_mm3 / 1000.0:.1f} mL of resin saved."
    )
    source = replace(solid.source, notes=(*state.solid.source.notes, note, *facts.notes))
    made = Solid(solid.vertices, solid.faces, solid.bodies, source)
    marks = None if state.keep_clear is None else carried(state.keep_clear, state.solid, made)
    return Edit(f"Hollow the part, wall {facts.wall_mm:g} mm", replace(state, solid=made, keep_clear=marks or None))
