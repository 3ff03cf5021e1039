"""How a part breathes as printed: suction and sealed area with openings and vents as wide as they print. Qt-free."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ventplanner.analysis.cavities import points_of_cup
from ventplanner.analysis.places import Places
from ventplanner.app.breathing import Breathing, flow_key
from ventplanner.app.outlook import Outlook
from ventplanner.app.printing import Printed
from ventplanner.app.state import AppState, key_of
from ventplanner.flow.suction import breathe
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Plan
from ventplanner.plan.venting import holes_of, printed_widths
from ventplanner.printed.engine import Widths
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

ENOUGH_POINTS = 2000
"""So many points of a cup tell in which cavity most of it lies."""


@dataclass(frozen=True, eq=False)
class PrintedOutlook(Outlook):
    """Cups as printed (`cups`) beside the findings. One that only the print makes goes by the cavity around it."""

    @cached_property
    def homes(self) -> tuple[tuple[str, str], ...]:
        """Cavity and cup for each of `cups.cups`; cup "" where only the print makes it, cavity "" where none is."""
        places = Places.of(self.findings)
        known = Outlook(self.findings, self.cups).homes
        return tuple(home if home[0] else (self._around(places, k), "") for k, home in enumerate(known))

    def _around(self, places: Places, number: int) -> str:
        """The cavity that most of one of `cups.cups` lies in, "" for none."""
        points, _ = points_of_cup(self.cups, number)
        found = places.at(points[:: 1 + len(points) // ENOUGH_POINTS])
        counts = np.bincount(found[found >= 0])
        return self.findings.cavities[int(counts.argmax())].id if len(counts) else ""


@dataclass(frozen=True, eq=False)
class BreathingPrinted:
    """How a part breathes as printed with the accepted vents.

    flow: without vents in the model (`before`) and as printed with the vents (`after`). heights: (k,) mm. areas: sealed
    area as printed in mm2 at these heights, (k,) for each cavity of the findings, then for all that is in none.
    """

    flow: Breathing
    heights: FloatArray
    areas: tuple[FloatArray, ...]


def printed_flow_key(state: AppState, profile: Profile) -> str:
    """Key of the flow as printed: the findings, the drills of the accepted vents, and the profile."""
    return key_of("flow as printed", flow_key(state, profile))


def breathing_printed(found: Breathing, plan: Plan, printed: Printed, progress: Progress = silent) -> BreathingPrinted:
    """The flow as printed. found: the flow in the model; printed: the part as printed; both of this plan and of one
    profile. An opening or vent that prints closed lets nothing through; one that was not measured stays as it is in
    the model."""
    ground = found.ground
    vents = tuple(vent for vent in plan.vents if printed.of(vent) is not None)
    passages = tuple(p for p in plan.passages if all(printed.of(leg) is not None for leg in p.drills))
    measured = Plan(vents=vents, passages=passages)
    known = tuple(width for drill in measured.drills if (width := printed.of(drill)) is not None)
    widths = Widths(printed.found.openings, known, ())
    holes = holes_of(plan, ground.findings.scene.frame)
    after = breathe(ground, found.after.profile, holes, printed_widths(ground, measured, widths), progress)
    progress("Sealed area as printed", 1.0)
    outlook = PrintedOutlook(ground.findings, printed.found.found)
    return BreathingPrinted(Breathing(ground, found.before, after), outlook.heights, outlook.areas)
