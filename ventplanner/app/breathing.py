"""How a part breathes under a profile, as the window asks for it: keys, and what the limits demand of each vent."""

from __future__ import annotations

import math
from dataclasses import astuple, dataclass

from ventplanner.app.state import AppState, analysis_key, key_of, plan_key
from ventplanner.flow.ground import Ground
from ventplanner.flow.model import Flow, RoomFlow
from ventplanner.flow.sizing import (
    Emptying,
    Need,
    Size,
    emptying,
    fastest,
    is_sideways,
    served_area,
    size_vents,
    speed_for,
)
from ventplanner.flow.suction import breathe
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.venting import hole_of, holes_of
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent


@dataclass(frozen=True, eq=False)
class Breathing:
    """The flow without vents and with the accepted ones. ground: rooms and throats, which both rest on."""

    ground: Ground
    before: Flow
    after: Flow


@dataclass(frozen=True)
class Demand:
    """What is asked of a vent, and what goes with it.

    size: smallest diameter by each condition. diameter: the vent's own, mm. lift_speed, lower_speed: mm/min at which
    the limits would just be kept with the vents as they are; of one that is not accepted yet, or while its hollow is
    closed for some other reason, by the formula for its size. row: the flow of the room that it serves. empties: how
    the cavity runs out through its vents.
    """

    size: Size
    diameter: float
    lift_speed: float
    lower_speed: float
    row: RoomFlow | None
    empties: Emptying

    @property
    def is_wide_enough(self) -> bool:
        """Whether the vent is as wide as every condition asks."""
        return self.diameter >= self.size.needs[0].diameter - 1e-9

    def need(self, condition: str) -> Need:
        """What one condition asks for."""
        return next(need for need in self.size.needs if need.condition == condition)


def ground_key(state: AppState) -> str:
    """Key of rooms and throats: the findings."""
    return key_of("ground", analysis_key(state))


def flow_key(state: AppState, profile: Profile) -> str:
    """Key of the flow: the findings, the drills of the accepted vents, and the profile."""
    return key_of("flow", plan_key(state), astuple(profile))


def breathing(ground: Ground, profile: Profile, plan: Plan, progress: Progress = silent) -> Breathing:
    """The flow without vents, and with those of a plan."""
    before = breathe(ground, profile, progress=progress)
    if not plan.vents:
        return Breathing(ground, before, before)
    holes = holes_of(plan, ground.findings.scene.frame)
    return Breathing(ground, before, breathe(ground, profile, holes, progress=progress))


def demand(found: Breathing, plan: Plan, vent: Vent) -> Demand:
    """What the limits of the profile ask of a vent (accepted, or about to be), among the vents of its cavity."""
    ground, flow, profile = found.ground, found.after, found.after.profile
    hole = hole_of(vent, ground.findings.scene.frame)
    others = [v for v in plan.vents if v.cavity == vent.cavity and v.id != vent.id]
    row = flow.of(vent.cup) or flow.of(vent.cavity)
    area = served_area(ground, flow, row.room) if row is not None and row.room else 0.0
    count = 1 + len(others)
    size = size_vents(area, vent.wall_mm, count, is_sideways(hole), profile)
    cavity = {c.id: c for c in ground.findings.cavities}.get(vent.cavity)
    diameters = tuple(v.diameter_mm for v in (*others, vent))
    empties = emptying(*_measure(ground, cavity.id if cavity else ""), diameters, vent.wall_mm, profile)
    if row is not None and not row.capped and vent.id in {v.id for v in plan.vents}:
        lift = speed_for(row.peak_suction, profile.lift_speed_mm_min, profile)
        lower = speed_for(row.steady_overpressure, profile.lower_speed_mm_min, profile)
    else:
        lift = lower = fastest(area, vent.wall_mm, count, vent.diameter_mm, profile)
    return Demand(size, vent.diameter_mm, lift, lower, row, empties)


def demands(found: Breathing, plan: Plan) -> list[dict[str, object]]:
    """What is asked of each vent of a plan, as plain data for the report (mm, mm/min, mL, s); inf is None."""
    rows = []
    for vent in plan.vents:
        asked = demand(found, plan, vent)
        rows.append(
            {
                "vent": vent.id,
                "diameter_mm": vent.diameter_mm,
                "asked_mm": _finite(asked.size.diameter),
                "binding": asked.size.binding.condition,
                "needs": [
                    {"condition": n.condition, "diameter_mm": _finite(n.diameter), "why": n.why}
                    for n in asked.size.needs
                ],
                "lift_speed_mm_min": _finite(asked.lift_speed),
                "lower_speed_mm_min": _finite(asked.lower_speed),
                "empties": {
                    "alone": asked.empties.alone,
                    "held_ml": _finite(asked.empties.held_ml),
                    "seconds": _finite(asked.empties.seconds),
                    "advice": asked.empties.advice,
                },
            }
        )
    return rows


def _finite(value: float) -> float | None:
    return round(value, 6) + 0.0 if math.isfinite(value) else None


def _measure(ground: Ground, cavity_id: str) -> tuple[float, float]:
    """Volume in mm3 and height in mm of a cavity, as it hangs."""
    for cavity in ground.findings.cavities:
        if cavity.id == cavity_id:
            corners = ground.findings.scene.frame.to_build(cavity.bounds)
            return cavity.volume, max(abs(float(corners[1, 2] - corners[0, 2])), 0.1)
    return 0.0, 1.0
