"""The part mended, as an edit: the part itself is another one from then on. What would come of it, as plain values."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ventplanner.app.closing_openings import carried
from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState
from ventplanner.geometry.solid import Solid
from ventplanner.mending.model import Loss
from ventplanner.plan.model import Point

if TYPE_CHECKING:
    from ventplanner.mending.mend import Mended


@dataclass(frozen=True)
class MendStep:
    """What a step changes. step: its name (`mend_parameters.STEPS`). what: in words, as a plural. places_mm: up to 20,
    along the file's axes. loss: what that costs, of a surface that is drawn anew."""

    step: str
    what: str
    count: int
    places_mm: tuple[Point, ...] = ()
    loss: Loss | None = None


@dataclass(frozen=True)
class MendFacts:
    """What mending a part changes, and what it leaves: damage of steps that were left out.

    left: what, how often, and a place along the file's axes. notes: why what was read as a cavity, as sentences.
    bodies: names of the bodies of the mended part. volumes: before and after, mm3.
    """

    steps: tuple[MendStep, ...]
    left: tuple[tuple[str, int, Point | None], ...]
    notes: tuple[str, ...]
    bodies: tuple[str, ...]
    volumes: tuple[float, float]

    @classmethod
    def of(cls, done: Mended) -> MendFacts:
        """Of a part that was mended."""
        return cls(
            tuple(MendStep(r.step, r.what, r.count, r.places_mm, r.loss) for r in done.records),
            tuple((note.what, note.count, note.at_mm) for note in done.left),
            done.notes,
            tuple(body.name for body in done.solid.bodies),
            (done.original.volume, done.solid.volume),
        )


def mend_part(state: AppState, solid: Solid, facts: MendFacts) -> Edit:
    """Take the mended part. The plan is kept, and has to be looked up again; marks of what is to be kept clear stay on
    the triangles that are still there."""
    told = "; ".join(f"{one.what}: {one.count}" for one in facts.steps)
    source = replace(solid.source, notes=(*state.solid.source.notes, f"The part was mended. {told}."))
    made = Solid(solid.vertices, solid.faces, solid.bodies, source)
    marks = None if state.keep_clear is None else carried(state.keep_clear, state.solid, made)
    return Edit("Mend the part", replace(state, solid=made, keep_clear=marks or None))
