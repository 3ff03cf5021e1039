"""How a part breathes under a profile, as the window asks for it: keys, and what the limits demand of each vent."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from ventplanner.app.state import AppState, analysis_key, fields_of, key_of, plan_key
from ventplanner.flow.ground import Ground
from ventplanner.flow.model import Flow, RoomFlow
from ventplanner.flow.sizing import Emptying, Need, Size, emptying, sizes
from ventplanner.flow.suction import breathe
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.venting import holes_of
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent


@dataclass(frozen=True, eq=False)
class Breathing:
    """The flow without vents and with the accepted ones. ground: rooms and throats, which both rest on. sizes: what the
    limits ask of each accepted vent, by its id."""

    ground: Ground
    before: Flow
    after: Flow
    sizes: Mapping[str, Size] = field(default_factory=dict)


@dataclass(frozen=True)
class Demand:
    """What is asked of a vent, and what goes with it.

    size: smallest diameter by each condition, and the speeds at which the vents as they are just keep the limits.
    diameter: the vent's own, mm. row: the flow of the room that it serves. empties: how the cavity runs out through its
    vents.
    """

    size: Size
    diameter: float
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
    return key_of("flow", plan_key(state), fields_of(profile))


def breathing(ground: Ground, profile: Profile, plan: Plan, progress: Progress = silent) -> Breathing:
    """The flow without vents, and with those of a plan, and what is asked of them."""
    before = breathe(ground, profile, progress=progress)
    if not plan.drills:
        return Breathing(ground, before, before)
    holes = holes_of(plan, ground.findings.scene.frame)
    after = breathe(ground, profile, holes, progress=progress)
    progress("Sizing vents", 0.0)
    return Breathing(ground, before, after, sizes(ground, profile, holes))


def demand(found: Breathing, plan: Plan, vent: Vent, size: Size | None = None) -> Demand | None:
    """What the limits of the profile ask of a vent, among the vents of its cavity; None if that is not known yet.

    size: of a vent that is only proposed.
    """
    size = found.sizes.get(vent.id) if size is None else size
    if size is None:
        return None
    ground, flow, profile = found.ground, found.after, found.after.profile
    others = [v for v in plan.vents if v.cavity == vent.cavity and v.id != vent.id]
    row = flow.of(vent.cup) or flow.of(vent.cavity)
    diameters = tuple(v.diameter_mm for v in (*others, vent))
    empties = emptying(*_measure(ground, vent.cavity), diameters, vent.wall_mm, profile)
    return Demand(size, vent.diameter_mm, row, empties)


def demands(found: Breathing, plan: Plan) -> list[dict[str, object]]:
    """What is asked of each vent of a plan, as plain data for the report (mm, mm/min, mL, s); inf is None."""
    rows = []
    for vent in plan.vents:
        asked = demand(found, plan, vent)
        if asked is None:
            continue
        rows.append(
            {
                "vent": vent.id,
                "diameter_mm": vent.diameter_mm,
                "asked_mm": _finite(asked.size.diameter),
                "binding": asked.size.binding.condition,
                "needs": [
                    {
                        "condition": n.condition,
                        "diameter_mm": _finite(n.diameter),
                        "height_mm": None if n.height is None else _finite(n.height),
                        "why": n.why,
                    }
                    for n in asked.size.needs
                ],
                "lift_speed_mm_min": _finite(asked.size.lift_speed),
                "lower_speed_mm_min": _finite(asked.size.lower_speed),
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
