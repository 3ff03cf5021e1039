"""In which cavity and cup is this place? A plan made for another pose or other options is looked up again with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ventplanner.analysis.cavities import Cavity, component_at
from ventplanner.analysis.findings import Findings
from ventplanner.app.edits import looked_up
from ventplanner.app.state import AppState, analysis_key
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Passage, Plan, Point, Vent

PROBES_MM = (0.05, 0.15, 0.3, 0.6, 1.0)
"""A vent's cavity is looked for this far beyond the inner skin, along its axis."""

ELSEWHERE = "Placed for another pose, or with other options."

NOT_FOUND = "*"
"""Added to the name of a cavity that was left alone and is not there in this pose: its note is kept for later."""


def names_at(findings: Findings, points: FloatArray) -> list[tuple[str, str]]:
    """Cavity and cup at each of (k, 3) build points; ("", "") in material and in the open.

    The cup is "" too in a cavity at a place that is never sealed, or in a cup that counts to another cavity.
    """
    points = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    by_key = {(c.kind, c.key): c for c in findings.cavities}
    by_cup = {c.number: (cavity, c.id) for cavity in findings.cavities for c in cavity.cups}
    component = component_at(findings.scene, points)
    chamber = findings.chambers.voxels.chamber_at(points)
    cup = findings.cups.cup_at(points)
    found = []
    for k in range(len(points)):
        if component[k] < 0:
            found.append(("", ""))
            continue
        own, cup_name = by_cup.get(int(cup[k]), (None, ""))
        cavity = by_key.get(("sealed", int(component[k]))) or by_key.get(("chamber", int(chamber[k]))) or own
        found.append((cavity.id if cavity else "", cup_name if cavity is own else ""))
    return found


def point_in(findings: Findings, cavity: Cavity) -> FloatArray:
    """(3,) build point well inside a cavity: the widest place of a chamber, else the middle of its longest column."""
    if cavity.kind == "chamber":
        return np.asarray(findings.chambers.widest_at[cavity.key])
    if cavity.kind == "sealed":
        tree = findings.scene.open_tree
        own = np.flatnonzero(tree.component[tree.branch_of_run] == cavity.key)
        top = np.inf
    else:
        tree = findings.cups.tree
        numbers = [c.number for c in cavity.cups]
        own = tree.enclosed_runs
        own = own[np.isin(findings.cups.cup_of_branch[tree.branch_of_run[own]], numbers)]
        top = max(c.cup.top_height for c in cavity.cups)
    low, high = tree.runs.z0[own], np.minimum(tree.runs.z1[own], top)
    # Of the long columns the one nearest the middle: a place where a letter may stand, too.
    long = np.flatnonzero(high - low >= 0.8 * float((high - low).max()))
    x, y = tree.runs.grid.centres(tree.runs.column_of_run[own])
    off = (x[long] - x.mean()) ** 2 + (y[long] - y.mean()) ** 2
    best = int(long[int(np.argmin(off))])
    return np.array([x[best], y[best], 0.5 * (low[best] + high[best])])


def named(findings: Findings, vent: Vent) -> Vent:
    """The vent with the cavity and cup that its inner end leads to; "" and "" if it leads into none."""
    return _named_all(findings, (vent,))[0]


def look_up(state: AppState, findings: Findings) -> AppState:
    """The state whose plan names cavities and cups as these findings do; see `edits.looked_up`.

    A cavity that was left alone is found by its point. One that is not there in this pose keeps its note under a
    name that no cavity has, so that it is found again in a pose where it is.
    """
    vents = _named_all(findings, state.plan.vents)
    if state.plan_made_for and state.plan_made_for != analysis_key(state):
        vents = tuple(replace(v, reason=ELSEWHERE) for v in vents)  # what it opened then is no reason now
    plan = replace(state.plan, vents=vents)
    places = dict(state.left_at)
    with_place = [cavity for cavity, _ in plan.left_alone if cavity in places]
    at = np.array([places[cavity] for cavity in with_place]).reshape(-1, 3)
    now = {
        before: cavity
        for before, (cavity, _) in zip(with_place, names_at(findings, findings.scene.frame.to_build(at)), strict=True)
    }
    known = {c.id for c in findings.cavities}
    notes: dict[str, str] = {}
    points: dict[str, Point] = {}
    for before, note in plan.left_alone:
        cavity = now.get(before, before if before in known else "") or before.rstrip(NOT_FOUND) + NOT_FOUND
        while cavity.endswith(NOT_FOUND) and cavity in notes:
            cavity += NOT_FOUND
        # Two that have become one: both notes are kept.
        notes[cavity] = "; ".join(dict.fromkeys(n for n in (notes.get(cavity, ""), note) if n))
        if before in places:
            points.setdefault(cavity, places[before])
    passages = tuple(passage_named(findings, passage) for passage in plan.passages)
    plan = Plan(plan.vents, (), tuple(sorted(notes.items())), passages=passages)
    return looked_up(state, plan, tuple(sorted(points.items())))


def passage_named(findings: Findings, passage: Passage) -> Passage:
    """The passage with the cup that it starts in and the cavity that it leads to, each looked up like a vent's."""
    last, first = passage.legs[0], passage.legs[-1]
    backwards = tuple(-x for x in last.axis)
    there = replace(last, entry_mm=last.exit_mm, exit_mm=last.entry_mm, axis=(backwards[0], backwards[1], backwards[2]))
    start, end = _named_all(findings, (first, there))
    outer = None if passage.outer is None else replace(passage.outer, cavity=end.cavity, cup=end.cup)
    return replace(passage, cavity=start.cavity, cup=start.cup, to=end.cavity, outer=outer)


def _named_all(findings: Findings, vents: Sequence[Vent]) -> tuple[Vent, ...]:
    steps = np.array(PROBES_MM)[:, None]
    ends = [np.asarray(v.exit_mm) + steps * np.asarray(v.axis) for v in vents]
    if not ends:
        return ()
    found = names_at(findings, findings.scene.frame.to_build(np.concatenate(ends)))
    out = []
    for k, vent in enumerate(vents):
        mine = found[k * len(PROBES_MM) : (k + 1) * len(PROBES_MM)]
        cavity = next((name for name, _ in mine if name), "")
        cups = [cup for name, cup in mine if cup and name == cavity]
        cups += [c.id for c in findings.cavity(cavity).cups] if cavity else []
        out.append(replace(vent, cavity=cavity, cup=cups[0] if cups else ""))
    return tuple(out)
