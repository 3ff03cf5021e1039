"""Planned vents as the flow sees them."""

from __future__ import annotations

import numpy as np

from ventplanner.flow.ways import Hole
from ventplanner.geometry.pose import BuildFrame
from ventplanner.plan.model import Plan, Vent


def hole_of(vent: Vent, frame: BuildFrame) -> Hole:
    """A vent in build axes."""
    entry, exit_ = (tuple(frame.to_build(np.array([p]))[0].tolist()) for p in (vent.entry_mm, vent.exit_mm))
    return Hole(vent.id, (entry[0], entry[1], entry[2]), (exit_[0], exit_[1], exit_[2]), vent.diameter_mm)


def holes_of(plan: Plan, frame: BuildFrame) -> tuple[Hole, ...]:
    """All vents of a plan in build axes."""
    return tuple(hole_of(vent, frame) for vent in plan.vents)
