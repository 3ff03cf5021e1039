"""Planned vents and passages as the flow sees them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.flow.ground import Ground
from ventplanner.flow.ways import Hole
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.pose import BuildFrame
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.model import Passage, Plan, Vent
from ventplanner.printed.engine import Widths


def hole_of(vent: Vent, frame: BuildFrame) -> Hole:
    """A vent in build axes."""
    entry, exit_ = (_tuple(p) for p in frame.to_build(np.array([vent.entry_mm, vent.exit_mm])))
    outline, sink = vent.outline, vent.countersink
    if not outline.is_round:
        outline = replace(outline, along=_tuple(frame.direction_to_build(np.asarray(outline.along))))
    flare = None if sink is None else (sink.width_mm, sink.depth_mm)
    return Hole(vent.id, entry, exit_, vent.diameter_mm, None, outline, flare)


def _tuple(point: FloatArray) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return (x, y, z)


def hole_of_passage(passage: Passage, frame: BuildFrame) -> Hole:
    """A passage in build axes, from the space that it leads to on to its cup."""
    end, *knee, start = (_tuple(p) for p in frame.to_build(np.array(passage.points_mm[::-1])))
    return Hole(passage.id, end, start, passage.diameter_mm, knee[0] if knee else None)


def holes_of(plan: Plan, frame: BuildFrame) -> tuple[Hole, ...]:
    """All vents and passages of a plan in build axes, a passage's way out after it."""
    vents = (hole_of(vent, frame) for vent in plan.vents)
    inside = (
        hole
        for p in plan.passages
        for hole in (hole_of_passage(p, frame), *(() if p.outer is None else (hole_of(p.outer, frame),)))
    )
    return (*vents, *inside)


def printed_widths(ground: Ground, plan: Plan, widths: Widths) -> dict[str, float]:
    """Widths in mm that the flow is to take: of vents and passages by id, and of each opening of the part that was
    measured. `widths.vents` are those of `plan.drills`.

    An opening is the throat nearest to it, if its place lies within the throat.
    """
    found: dict[str, float] = {}  # none if not known
    for name, one in zip(names_of_drills(plan), widths.vents, strict=False):
        found[name] = min(one.printed_mm, found.get(name, np.inf))
    for opening in widths.openings:
        apart = [float(np.linalg.norm(t.at - np.asarray(opening.at))) for t in ground.throats]
        if apart and min(apart) <= 0.5 * max(ground.throats[int(np.argmin(apart))].length, opening.nominal_mm):
            found[f"opening {int(np.argmin(apart))}"] = opening.printed_mm
    return found


def names_of_drills(plan: Plan) -> tuple[str, ...]:
    """Whose each of `plan.drills` is: ids of vents, then of passages, that of a bent one twice, and of ways out."""
    inside = (drill.id if drill is p.outer else p.id for p in plan.passages for drill in p.drills)
    return (*(v.id for v in plan.vents), *inside)


def tools_of(findings: Findings, plan: Plan) -> tuple[Tool, ...]:
    """The drills of a plan in build axes."""
    return tuple(tool_of_vent(findings, drill) for drill in plan.drills)
