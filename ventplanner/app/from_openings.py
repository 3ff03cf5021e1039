"""Vents by hand that begin with a hole that is there: in another place instead of it."""

from __future__ import annotations

from dataclasses import replace

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.openings import Opening
from ventplanner.app.dragging import moved
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Plan, Vent

NARROWEST_MM = 0.1
_ORIGIN, _AXIS = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)


def blank(name: str, diameter: float) -> Vent:
    """A vent that is nowhere yet."""
    return Vent(name, "", "", "vent", _ORIGIN, _ORIGIN, _AXIS, diameter, 0.0, 0.0, 0.0)


def elsewhere(
    findings: Findings, opening: Opening, plan: Plan, name: str, at: tuple[FloatArray, FloatArray]
) -> Vent | str:
    """A vent as wide as an opening, to tenths of a mm, where the opening is to go; or why none fits there.

    at: (3,) build point of the skin, and (3,) its direction outwards.
    """
    width = max(round(opening.width, 1), NARROWEST_MM)
    found = moved(findings, blank(name, width), *at, False, plan.vents)
    if isinstance(found, str):
        return found
    return replace(found, reason=f"Instead of the opening {opening.width:.1f} mm wide. {found.reason}")
