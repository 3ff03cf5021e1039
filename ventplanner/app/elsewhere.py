"""Other places for a vent as the window asks for them: the list with its words, the edit, and why not just here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.app import edits
from ventplanner.app.breathing import Breathing
from ventplanner.app.dragging import moved, others_of
from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState, analysis_key, fields_of, key_of, marks_key
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.alternatives import Alternative, Alternatives, Search, Site
from ventplanner.plan.consequences import Air, base_height, told, with_widths
from ventplanner.plan.fitting import KEPT_CLEAR, fit_of_vent
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.refusal import Refusal, place_of_refusal, with_place
from ventplanner.plan.score import Judge, Terms
from ventplanner.profile import Profile
from ventplanner.progress import Progress

LEAST_ML = 0.05
"""Less than this is told to be nothing: a drop."""


@dataclass(frozen=True)
class Walk:
    """A walk through the places of one vent. found: first place 0 is where it was. at: the place where it is now."""

    vent: Vent
    found: Alternatives
    at: int = 0

    @property
    def places(self) -> tuple[Alternative, ...]:
        """Where it was, then the others."""
        return (self.found.present, *self.found.places)

    def name_of(self, at: int) -> str:
        """What a place is called."""
        return "Where it was" if at == 0 else f"Place {at}"

    def is_of(self, vent: Vent | None, plan: Plan) -> bool:
        """Whether the vent stands where the walk has put it."""
        here = self.places[self.at].vents
        return vent is not None and _same(vent, here[0]) and all(_stands(plan, more) for more in here[1:])


def walk(
    findings: Findings,
    state: AppState,
    vent: Vent,
    proposals: Sequence[Vent],
    breathing: Breathing | None,
    progress: Progress,
) -> Walk | None:
    """The places of a vent, accepted or proposed, beside all other accepted vents and open proposals; None if it leads
    into no known cavity. breathing: the flow of this part, if it is known, for the suction."""
    progress("Looking for other places", 0.0)
    findings = findings.keeping_clear(state.keep_clear)
    profile = state.profile or Profile()
    air = None
    if breathing is not None and breathing.ground.findings.scene is findings.scene:
        air = Air(replace(breathing.ground, findings=findings), profile)
    whole = replace(state.plan, vents=(*state.plan.vents, *proposals)).with_vent(vent)
    found = told(_search(findings, state, profile), vent, whole, air)
    return None if found is None else Walk(vent, found)


def measured(findings: Findings, state: AppState, now: Walk, proposals: Sequence[Vent], progress: Progress) -> Walk:
    """A walk with the width that prints in each place, beside the holes that the walk was found with."""
    whole = replace(state.plan, vents=(*state.plan.vents, *proposals)).with_vent(now.vent)
    found = with_widths(findings, whole, {now.vent.id: now.found}, state.profile or Profile(), progress)
    return replace(now, found=found[now.vent.id])


def walk_key(state: AppState, vent: Vent, proposals: Sequence[Vent]) -> str:
    """Key of the places of a vent: the analysis, the rules, the marks, and all other holes."""
    rest = [v for v in (*state.plan.drills, *proposals) if v.id != vent.id]
    holes = [list(v.cut) for v in (*rest, vent)]
    profile = fields_of(state.profile) if state.profile is not None else ()
    return key_of("places", analysis_key(state), fields_of(state.rules), marks_key(state), profile, holes)


def rest_key(state: AppState, now: Walk) -> str:
    """Key of all that the places of a walk rest on beside its own holes: they hold as long as this stays the same."""
    own = {v.id for place in now.places for v in place.vents} | {now.vent.id}
    holes = [list(v.cut) for v in state.plan.drills if v.id not in own]
    profile = fields_of(state.profile) if state.profile is not None else ()
    return key_of("rest", analysis_key(state), fields_of(state.rules), marks_key(state), profile, holes)


def put(state: AppState, now: Walk, at: int, proposal: Vent | None) -> tuple[Edit, Walk]:
    """The edit that puts the vent of a walk to another of its places, and the walk from there. proposal: the vent as it
    is proposed, if it is not accepted yet."""
    vents = now.places[at].vents
    gone = {v.id for v in now.places[now.at].vents[1:]}

    def change(accepted: AppState, name: str) -> Edit:
        plan = replace(accepted.plan, vents=tuple(v for v in accepted.plan.vents if v.id not in gone))
        plan = plan.with_vent(replace(vents[0], id=name, kind=vents[0].kind))
        for more in vents[1:]:
            plan = plan.with_vent(more)
        return Edit(f"Put vent {name} elsewhere", replace(accepted, plan=plan), f"elsewhere {name}")

    if proposal is None:
        edit, name = change(state, now.vent.id), now.vent.id
    else:
        edit = edits.accept_with(state, proposal, change)
        name = next(v.id for v in edit.state.plan.vents if _same(v, vents[0]))
        edit = edit._replace(coalesce_key=f"elsewhere {name}")
    return edit, replace(now, vent=replace(now.vent, id=name), at=at)


def figures_of(terms: Terms) -> str:
    """What a place brings with it, in one line."""
    parts = [f"seen in {100.0 * terms.seen:.0f} % of the views"]
    if terms.apart_mm is not None:
        parts.append(f"{terms.apart_mm:.1f} mm of height from the next opening")
    elif terms.lost_mm is not None:
        lost = "opens at the start" if terms.lost_mm < 0.1 else f"opens {terms.lost_mm:.1f} mm above the start"
        parts.append(f"{lost}, too late" if terms.late else lost)
        if terms.sealed_left_mm3 is not None and terms.sealed_left_mm3 >= 1.0:
            parts.append(f"{terms.sealed_left_mm3:.0f} mm3 stay sealed")
    parts.append(f"{terms.wall_mm:.1f} mm of wall")
    if terms.suction_pa is not None:
        parts.append(f"sucks {0.001 * terms.suction_pa:.1f} kPa at most")
    if terms.printed_mm is not None:
        parts.append(f"prints {terms.printed_mm:.2f} mm wide" if terms.printed_mm > 0.0 else "prints closed")
    if terms.left_hanging_ml is not None and terms.left_standing_ml is not None:
        parts.append(drained(terms.left_hanging_ml, terms.left_standing_ml))
    if terms.access_mm < 30.0:
        parts.append(f"{terms.access_mm:.0f} mm of free way before it")
    if terms.edge_mm < 1.0:
        parts.append("beside an edge")
    return ", ".join(parts)


def drained(hanging_ml: float, standing_ml: float) -> str:
    """What stays in a cavity when it drains, in both poses."""
    if max(hanging_ml, standing_ml) < LEAST_ML:
        return "drains empty, hanging or standing"
    told = [
        f"{pose} {ml:.1f} mL stay" if ml >= LEAST_ML else f"{pose} it drains empty"
        for pose, ml in (("hanging", hanging_ml), ("standing", standing_ml))
    ]
    return " and ".join(told)


def why_not(
    findings: Findings, state: AppState, vent: Vent, point: FloatArray, normal: FloatArray, others: Sequence[Vent]
) -> str:
    """One sentence about a vent at a point of the skin: why it does not fit there, with the place that forbids it
    (`Refusal`), or what it would cost.

    vent: as wide as this one. point, normal: (3,) build point and direction out of the material.
    """
    findings = findings.keeping_clear(state.keep_clear)
    if findings.kept_clear is not None and findings.kept_clear.is_near(point[None], 0.0)[0]:
        # The one reason that the maker gave: whatever else forbids a vent in a mark comes second.
        found: Vent | str = with_place(findings.scene.frame, Refusal(KEPT_CLEAR, point))
    else:
        beside = others_of(replace(state.plan, vents=tuple(others)), vent.id)
        found = moved(findings, vent, point, normal, False, beside)
    if isinstance(found, str):
        why = found.replace(" there, at (", ", at (")
        return Refusal(f"No vent of {vent.diameter_mm:g} mm there: {why}.", place_of_refusal(found))
    rest = [v for v in (*others, *(drill for p in state.plan.passages for drill in p.drills)) if v.id != vent.id]
    site = Site.of(findings, replace(found, id=vent.id), rest)
    if site is None:
        return Refusal("No vent there: it would lead into no cavity.", point)
    search = _search(findings, state, state.profile or Profile())
    judge = Judge(findings, search.views(), site.others, search.base_mm)
    fitted = fit_of_vent(findings, found)
    judged = site.judged(judge, fitted)
    terms = judge.terms(fitted) if judged is None else judged.terms
    into = f"cavity {site.cavity.id}" if site.cup is None else f"cup {site.cup.id}"
    more = " It frees next to nothing." if judged is None else ""
    return f"A vent of {vent.diameter_mm:g} mm there leads into {into}: {figures_of(terms)}.{more}"


def _search(findings: Findings, state: AppState, profile: Profile) -> Search:
    return Search(findings, state.rules, base_mm=base_height(profile, state.pose.on, state.pose.gap_mm))


def _same(one: Vent, other: Vent) -> bool:
    """Whether two vents are the same hole."""
    ends = (*one.entry_mm, *one.exit_mm, one.diameter_mm), (*other.entry_mm, *other.exit_mm, other.diameter_mm)
    return bool(np.allclose(*ends, atol=1e-9))


def _stands(plan: Plan, vent: Vent) -> bool:
    return any(v.id == vent.id and _same(v, vent) for v in plan.vents)
