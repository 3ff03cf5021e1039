"""Planned vents as the flow sees them."""

from __future__ import annotations

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.flow.ground import Ground
from ventplanner.flow.ways import Hole
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.pose import BuildFrame
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.model import Plan, Vent
from ventplanner.printed.engine import Widths


def hole_of(vent: Vent, frame: BuildFrame) -> Hole:
    """A vent in build axes."""
    entry, exit_ = (tuple(frame.to_build(np.array([p]))[0].tolist()) for p in (vent.entry_mm, vent.exit_mm))
    return Hole(vent.id, (entry[0], entry[1], entry[2]), (exit_[0], exit_[1], exit_[2]), vent.diameter_mm)


def holes_of(plan: Plan, frame: BuildFrame) -> tuple[Hole, ...]:
    """All vents of a plan in build axes."""
    return tuple(hole_of(vent, frame) for vent in plan.vents)


def printed_widths(ground: Ground, plan: Plan, widths: Widths) -> dict[str, float]:
    """Widths in mm that the flow is to take: of each vent by its id, and of each opening of the part that was measured.

    An opening is the throat nearest to it, if its place lies within the throat.
    """
    found = {vent.id: one.printed_mm for vent, one in zip(plan.vents, widths.vents, strict=False)}  # none if not known
    for opening in widths.openings:
        apart = [float(np.linalg.norm(t.at - np.asarray(opening.at))) for t in ground.throats]
        if apart and min(apart) <= 0.5 * max(ground.throats[int(np.argmin(apart))].length, opening.nominal_mm):
            found[f"opening {int(np.argmin(apart))}"] = opening.printed_mm
    return found


def tools_of(findings: Findings, plan: Plan) -> tuple[Tool, ...]:
    """The drills of a plan in build axes."""
    return tuple(tool_of_vent(findings, vent) for vent in plan.vents)
