"""From places that the user points at to a passage that fits there: what dragging and laying one come down to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.app.lookup import passage_named
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules
from ventplanner.plan.model import Passage, Plan, Point
from ventplanner.plan.passage_fit import as_passage, straight_unmeasured
from ventplanner.plan.passage_width import placed
from ventplanner.plan.refusal import Refusal, with_place

SHORTEST_MM = 0.2
"""Two places nearer to each other than this are one."""

NO_HOLLOW = "it would end in no hollow"
WHOLE = -1
"""In place of the number of a stop: the passage is moved as a whole."""


def blank(name: str, diameter: float) -> Passage:
    """A passage that is nowhere yet."""
    return Passage(name, "", "", "", (), diameter, 0.0, 0.0, 0.0)


def moved(
    findings: Findings, plan: Plan, passage: Passage, stop: int, point: FloatArray, rules: VentRules
) -> Passage | str:
    """The passage with one of its stops (number in `points_mm`, or `WHOLE`: its middle) at a (3,) build point, fitted
    to the skins there; or why it does not fit, in a few words that tell the place, and with it (`Refusal`)."""
    return laid(findings, plan, passage, stops_with(findings, passage, stop, point), rules)


def stops_with(findings: Findings, passage: Passage, stop: int, point: FloatArray) -> FloatArray:
    """(2 or 3, 3) the stops of a passage in build axes, one of them (or `WHOLE`: its middle) at another place."""
    stops = findings.scene.frame.to_build(np.array(passage.points_mm))
    if stop == WHOLE:
        return np.asarray(stops + (np.asarray(point) - 0.5 * (stops[0] + stops[-1])))
    stops[stop] = point
    return stops


def laid(findings: Findings, plan: Plan, passage: Passage, stops: FloatArray, rules: VentRules) -> Passage | str:
    """The passage along stops ((2 or 3, 3), build axes: in one hollow or at its skin, in the material, and in or at the
    next), as wide as it is, among the other holes of a plan; or why it does not fit, as `moved`."""
    found = _laid(findings, plan, passage, np.asarray(stops, dtype=np.float64), rules)
    return with_place(findings.scene.frame, found) if isinstance(found, str) else found


def _laid(findings: Findings, plan: Plan, passage: Passage, stops: FloatArray, rules: VentRules) -> Passage | str:
    lengths = np.linalg.norm(np.diff(stops, axis=0), axis=1)
    if lengths.min() < SHORTEST_MM:
        return Refusal("its ends are too near each other", stops[0])
    named = _named(findings, passage, stops)
    if isinstance(named, str):
        return named
    found = placed(findings, plan, named, stops, passage.diameter_mm, rules)
    if isinstance(found, str):
        return found
    wall = found.length_mm
    if wall > rules.longest_wall_mm:
        middle = findings.scene.frame.to_build(np.array(found.points_mm)).mean(axis=0)
        return Refusal(f"{wall:.1f} mm of material are more than the {rules.longest_wall_mm:g} mm allowed", middle)
    return replace(found, reason=f"Placed by hand, through {wall:.1f} mm of material.")


def _named(findings: Findings, passage: Passage, stops: FloatArray) -> Passage | str:
    """The passage with the names of the hollows that it joins along these stops."""
    frame = findings.scene.frame
    if len(stops) == 2:
        length = float(np.linalg.norm(stops[1] - stops[0]))
        bored = straight_unmeasured(
            findings, (stops[0], (stops[1] - stops[0]) / length), passage.radius_mm, (0.0, length)
        )
        if isinstance(bored, str):
            return bored
        rough = as_passage(findings, bored, (passage.id, "", "", ""), "")
    else:
        a, b, c = (_point(p) for p in frame.to_file(stops))
        rough = replace(passage, points_mm=(a, b, c), outer=None)
    named = passage_named(findings, rough)
    ends = frame.to_build(np.array([named.points_mm[0], named.points_mm[-1]]))
    for name, end in zip((named.cavity, named.to), ends, strict=True):
        if not name:
            return Refusal(NO_HOLLOW, end)
    return replace(named, diameter_mm=passage.diameter_mm, outer=passage.outer)


def _point(values: FloatArray) -> Point:
    x, y, z = (float(v) for v in values)
    return (x, y, z)
