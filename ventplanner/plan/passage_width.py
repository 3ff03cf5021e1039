"""A passage made wider or narrower where it is, or laid elsewhere by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules
from ventplanner.plan.fitting import Fit, as_vent, fit, tool_of_vent
from ventplanner.plan.model import Passage, Plan, Vent
from ventplanner.plan.passage_fit import Bored, as_passage, straight
from ventplanner.plan.passage_places import pointed_at
from ventplanner.plan.passage_search import Search, too_near_others
from ventplanner.plan.passages_bent import bent
from ventplanner.plan.venting import tools_of

FLAT_MM = 0.02


def resized(
    findings: Findings, plan: Plan, passage: Passage, diameter: float, rules: VentRules, shift: FloatArray | None = None
) -> Passage | str:
    """The passage with another diameter (mm), measured anew among the other holes of a plan; or why it does not fit, in
    a few words, mostly with the place (`Refusal`). Its axis stays, or is moved by `shift` ((3,) mm in build axes)."""
    stops = findings.scene.frame.to_build(np.array(passage.points_mm)) + (np.zeros(3) if shift is None else shift)
    return placed(findings, plan, passage, stops, diameter, rules)


def placed(
    findings: Findings, plan: Plan, passage: Passage, stops: FloatArray, diameter: float, rules: VentRules
) -> Passage | str:
    """The passage along other stops ((2 or 3, 3), build axes) between the hollows that it names, fitted to their skins
    and measured as in `resized`."""
    others = tools_of(findings, plan.without_passage(passage.id))
    search = Search(findings, findings.cups, 0, passage.cavity, passage.cup, rules, others)
    to = next((k for k, c in enumerate(findings.cavities) if c.id == passage.to), -1)
    bored = _bored(search, stops, 0.5 * diameter, to)
    if isinstance(bored, str):
        return bored
    names = (passage.id, passage.cavity, passage.cup, passage.to)
    made = replace(as_passage(findings, bored, names, passage.reason), diameter_mm=diameter)
    if text := search.objection(bored, to):
        return pointed_at(findings, text, bored, made.legs, search.own_faces(to))
    if passage.outer is None:
        return made
    outer = _way_out(findings, passage.outer, bored.stops, diameter)
    if isinstance(outer, str):
        return outer
    told = too_near_others(tool_of_vent(findings, outer), others)
    return told or replace(made, outer=outer).called(passage.id)


def _bored(search: Search, stops: FloatArray, radius: float, to: int) -> Bored | str:
    own = search.own_faces(to)
    if len(stops) == 3:
        return bent(search, (stops[0], stops[1], stops[2]), radius, own)
    length = float(np.linalg.norm(stops[1] - stops[0]))
    return straight(search.findings, (stops[0], (stops[1] - stops[0]) / length), radius, (0.0, length), own)


def _way_out(findings: Findings, outer: Vent, stops: FloatArray, diameter: float) -> Vent | str:
    """The way out of a passage in line with it."""
    direction = (stops[-1] - stops[0]) / np.linalg.norm(stops[-1] - stops[0])
    ends = findings.scene.frame.to_build(np.array([outer.exit_mm, outer.entry_mm]))
    begin, end = ((ends - stops[0]) @ direction).tolist()
    found = fit(findings, stops[0], direction, 0.5 * diameter, (begin, end))
    if not isinstance(found, Fit):
        return found
    made = as_vent(findings, found, outer.id, (outer.cavity, outer.cup, outer.kind), outer.reason)
    return replace(made, diameter_mm=diameter)


def as_wide_as_fits(findings: Findings, plan: Plan, passage: Passage, diameter: float, rules: VentRules) -> Passage:
    """The passage with this diameter, or with the one next to it, in tenths of a mm towards its own, that fits; where
    it can with the same lowest line, so that its cup opens where it did."""
    step = 0.1 if diameter < passage.diameter_mm else -0.1
    count = round(abs(diameter - passage.diameter_mm) * 10.0)
    for wide in (round(diameter + k * step, 1) for k in range(count)):
        for shift in _shifts(findings, passage, wide):
            found = resized(findings, plan, passage, wide, rules, shift)
            if isinstance(found, Passage):
                return found
    return passage


def _shifts(findings: Findings, passage: Passage, diameter: float) -> Iterator[FloatArray]:
    """How to move a straight passage square to itself so that its lowest line stays; then not at all."""
    stops = findings.scene.frame.to_build(np.array(passage.points_mm))
    along = (stops[-1] - stops[0]) / np.linalg.norm(stops[-1] - stops[0])
    down = np.array([0.0, 0.0, -1.0]) + along[2] * along
    length = float(np.linalg.norm(down))
    if len(stops) == 2 and length > FLAT_MM:
        yield down / length * 0.5 * (passage.diameter_mm - diameter)
    yield np.zeros(3)
