"""A passage made wider or narrower where it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.options import VentRules
from ventplanner.plan.model import Passage, Plan
from ventplanner.plan.passage_fit import as_passage, straight
from ventplanner.plan.passage_search import Search
from ventplanner.plan.passages_bent import bent
from ventplanner.plan.venting import tools_of


def resized(findings: Findings, plan: Plan, passage: Passage, diameter: float, rules: VentRules) -> Passage | str:
    """The passage with another diameter (mm) along the same axis, measured anew among the other holes of a plan; or why
    it does not fit, in a few words."""
    others = tools_of(findings, plan.without_passage(passage.id))
    search = Search(findings, findings.cups, 0, passage.cavity, passage.cup, rules, others)
    to = next((k for k, c in enumerate(findings.cavities) if c.id == passage.to), -1)
    own = search.own_faces(to)
    stops = findings.scene.frame.to_build(np.array(passage.points_mm))
    if len(stops) == 2:
        length = float(np.linalg.norm(stops[1] - stops[0]))
        line = (stops[0], (stops[1] - stops[0]) / length)
        bored = straight(findings, line, 0.5 * diameter, (0.0, length), own)
    else:
        bored = bent(search, (stops[0], stops[1], stops[2]), 0.5 * diameter, own)
    text = bored if isinstance(bored, str) else search.objection(bored, to)
    if isinstance(bored, str) or text:
        return text
    names = (passage.id, passage.cavity, passage.cup, passage.to)
    return replace(as_passage(findings, bored, names, passage.reason), diameter_mm=diameter)
