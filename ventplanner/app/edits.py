"""The edits: pure functions from a state to the next one, each with the name that undo shows.

`history.did(*edit)` takes an edit into the history. None has an inverse: going back is the history's work.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from typing import NamedTuple, TypeVar

import numpy as np

from ventplanner import parameters as p
from ventplanner.app.directions import side
from ventplanner.app.state import AppState, analysis_key, same_place
from ventplanner.errors import InputError, ParameterError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.support_file import Supports
from ventplanner.options import AnalysisOptions, InsideLimits, VentRules
from ventplanner.plan.model import Passage, Plan, Point, Vent
from ventplanner.plan.section_rules import check_section
from ventplanner.profile import Profile
from ventplanner.profile_parameters import PROFILE_PARAMETERS

OTHER_UNIT = "The supports were read in another unit: they are not minded. Load them again, or remove them."


T = TypeVar("T", AnalysisOptions, VentRules, InsideLimits)


class Edit(NamedTuple):
    """An edit that was made: its name, the state after it, and the key under which the steps of a drag merge."""

    name: str
    state: AppState
    coalesce_key: str | None = None


def accept(state: AppState, *proposals: Vent) -> Edit:
    """Take proposals into the plan. One whose id an accepted vent already bears gets the next free number."""
    plan, origins, aside = state.plan, state.proposals, state.set_aside
    ids = []
    for proposal in proposals:
        vent = replace(proposal, id=_free_id(plan, proposal.id))
        plan = plan.with_vent(vent)
        origins = (*origins, (vent.id, proposal))
        aside = tuple(v for v in aside if not same_place(v, proposal))
        ids.append(vent.id)
    name = f"Accept {_called(ids[0])}" if len(ids) == 1 else f"Accept {len(ids)} vents"
    after = replace(_kept_current(state), plan=plan, proposals=origins, set_aside=aside)
    return Edit(name, after)


def accept_with(state: AppState, proposal: Vent, change: Callable[[AppState, str], Edit]) -> Edit:
    """Take a proposal into the plan with another figure, as one edit. change: from the state in which it is accepted,
    and its id there."""
    accepted = accept(state, proposal)
    vent_id = accepted.state.plan.vents[-1].id
    changed = change(accepted.state, vent_id)
    how = changed.name.replace(f" of {_called(vent_id)}", "").replace(f" {_called(vent_id)}", "")
    return Edit(f"{accepted.name}: {how[:1].lower()}{how[1:]}", changed.state)


def add(state: AppState, vent: Vent) -> Edit:
    """Take a vent into the plan that was placed by hand and never proposed; its id is free."""
    after = replace(_kept_current(state), plan=state.plan.with_vent(vent))
    return Edit(f"Add {_called(vent.id)}", after)


def moved_away(state: AppState, cup: str) -> tuple[str, ...]:
    """Ids of the accepted vents that were proposed for this cup and are now somewhere else."""
    now = {v.id: v for v in state.plan.vents}
    return tuple(
        vent_id
        for vent_id, proposal in state.proposals
        if proposal.cup == cup and vent_id in now and not same_place(now[vent_id], proposal)
    )


def propose_again(state: AppState, cup: str) -> Edit:
    """Offer what was proposed for a cup once more, where its vents have been moved away or set aside."""
    away = moved_away(state, cup)
    origins = tuple(pair for pair in state.proposals if pair[0] not in away)
    aside = tuple(v for v in state.set_aside if v.cup != cup)
    return Edit(f"Propose again for cup {cup}", replace(state, proposals=origins, set_aside=aside))


def set_aside(state: AppState, proposal: Vent) -> Edit:
    """Do not offer this proposal any more."""
    if any(same_place(v, proposal) for v in state.set_aside):
        return Edit(f"Set aside {_called(proposal.id)}", state)
    after = replace(_kept_current(state), set_aside=(*state.set_aside, proposal))
    return Edit(f"Set aside {_called(proposal.id)}", after)


def bring_back(state: AppState, proposal: Vent) -> Edit:
    """Offer a proposal again that was set aside."""
    kept = tuple(v for v in state.set_aside if not same_place(v, proposal))
    return Edit(f"Bring back {_called(proposal.id)}", replace(state, set_aside=kept))


def remove(state: AppState, vent_id: str) -> Edit:
    """Take an accepted vent out of the plan; the proposal that it began as is open again."""
    vent = vent_of(state, vent_id)
    origins = tuple(pair for pair in state.proposals if pair[0] != vent.id)
    after = replace(state, plan=state.plan.without_vent(vent.id), proposals=origins)
    return Edit(f"Remove {_called(vent_id)}", after)


def move(state: AppState, moved: Vent) -> Edit:
    """Put the accepted vent of this id in another place; `moved` has been fitted to the wall there."""
    return _changed(state, moved, f"Move {_called(moved.id)}", "move")


def set_axis(state: AppState, turned: Vent) -> Edit:
    """Turn the accepted vent of this id; `turned` has been fitted to the wall along its new axis."""
    return _changed(state, turned, f"Turn {_called(turned.id)}", "turn")


def set_diameter(state: AppState, vent_id: str, diameter_mm: float) -> Edit:
    """Drill an accepted vent wider or narrower. Raises ParameterError outside the range of diameters."""
    diameter = p.DIAMETER_MM.check(diameter_mm)
    vent = replace(vent_of(state, vent_id), diameter_mm=diameter)
    return _changed(state, vent, f"Set diameter of {_called(vent_id)} to {_number(diameter)} mm", "diameter")


def set_section(state: AppState, shaped: Vent) -> Edit:
    """Give the accepted vent of this id another section or countersink; `shaped` has been fitted to the wall with it.
    Raises ParameterError for a section that is none."""
    check_section(shaped.diameter_mm, shaped.outline, shaped.countersink)
    before, called = vent_of(state, shaped.id), _called(shaped.id)
    sink, shape = shaped.countersink, shaped.outline.shape
    if before.countersink != sink:
        name = f"Countersink {called}" if sink else f"Remove the countersink of {called}"
        return _changed(state, shaped, name, "countersink")
    if before.outline.shape != shape:
        return _changed(state, shaped, f"Make {called} {'a slot' if shape == 'slot' else shape}", "shape")
    if before.outline.length_mm != shaped.outline.length_mm:
        name = f"Set length of {called} to {_number(shaped.outline.length_mm)} mm"
        return _changed(state, shaped, name, "length")
    return _changed(state, shaped, f"Turn the section of {called}", "section")


def set_widths(state: AppState, vents: Sequence[Vent], passages: Sequence[Passage] = ()) -> Edit:
    """Give accepted vents and passages the diameters that these have, which have been fitted; as one edit."""
    now, inside = {v.id: v for v in vents}, {p.id: p for p in passages}
    changed = [_called(v.id) for v in state.plan.vents if now.get(v.id, v) != v]
    wider = [f"passage {p.id}" for p in state.plan.passages if inside.get(p.id, p) != p]
    plan = replace(
        state.plan,
        vents=tuple(now.get(v.id, v) for v in state.plan.vents),
        passages=tuple(inside.get(p.id, p) for p in state.plan.passages),
    )
    kind = "holes" if changed and wider else "passages" if wider else "vents"
    changed += wider
    what = changed[0] if len(changed) == 1 else f"{len(changed)} {kind}"
    return Edit(f"Size {what} by need", replace(state, plan=plan) if changed else state)


def set_depth(state: AppState, vent_id: str, beyond_mm: float) -> Edit:
    """Drill an accepted vent less or more far beyond the inner skin. Raises ParameterError for a negative depth."""
    if not math.isfinite(beyond_mm) or beyond_mm < 0:
        raise ParameterError(f"A vent cannot end {beyond_mm:g} mm beyond the wall.", "Give 0 mm or more.")
    vent = replace(vent_of(state, vent_id), beyond_mm=float(beyond_mm))
    return _changed(state, vent, f"Set depth of {_called(vent_id)} to {_number(beyond_mm)} mm", "depth")


def leave_alone(state: AppState, cavity: str, note: str, at_mm: Point) -> Edit:
    """Leave a cavity as it is, with a note why; `at_mm` is a point in it. A second time changes the note only."""
    at_mm = dict(state.left_at).get(cavity, at_mm)  # in another pose it would be another point of the same cavity
    kept = tuple(pair for pair in state.plan.left_alone if pair[0] != cavity)
    places = tuple(pair for pair in state.left_at if pair[0] != cavity)
    plan = replace(state.plan, left_alone=tuple(sorted((*kept, (cavity, note)))))
    after = replace(_kept_current(state), plan=plan, left_at=tuple(sorted((*places, (cavity, at_mm)))))
    return Edit(f"Leave cavity {cavity} as it is", after, f"note {cavity}")


def take_up(state: AppState, cavity: str) -> Edit:
    """Work again on a cavity that was left as it is."""
    plan = replace(state.plan, left_alone=tuple(pair for pair in state.plan.left_alone if pair[0] != cavity))
    places = tuple(pair for pair in state.left_at if pair[0] != cavity)
    return Edit(f"Take up cavity {cavity} again", replace(state, plan=plan, left_at=places))


def set_pose(state: AppState, pose: Pose) -> Edit:
    """Hang the part otherwise. The plan is kept, and has to be looked up again."""
    before = state.pose
    turned = math.dist(pose.to_plate, before.to_plate) > 1e-9
    regapped = not turned and pose.on == before.on
    if turned:
        name = f"Turn {side(pose.to_plate)} to the plate"
    elif regapped:
        name = f"Set {p.GAP_MM.label} to {_number(pose.gap_mm)} mm"
    else:
        name = "Lay on the plate" if pose.on == "plate" else "Raise on supports"
    return Edit(name, replace(state, pose=pose), "gap" if regapped else None)


def set_options(state: AppState, options: AnalysisOptions) -> Edit:
    """Analyse otherwise. The plan is kept, and has to be looked up again."""
    return Edit(_option_name(state.options, options, "options of the analysis"), replace(state, options=options))


def set_supports(state: AppState, supports: Supports | None) -> Edit:
    """Mind these supports, or none any more. The plan is kept."""
    if supports is None:
        return Edit("Remove the supports", replace(state, supports=None))
    return Edit(f"Load supports {supports.name}", replace(state, supports=supports))


def set_rules(state: AppState, rules: VentRules) -> Edit:
    """Propose other vents from now on; accepted ones stay as they are."""
    return Edit(_option_name(state.rules, rules, "rules for vents"), replace(state, rules=rules))


def set_limits(state: AppState, limits: InsideLimits) -> Edit:
    """Look inside with other limits. Nothing of the plan rests on them."""
    return Edit(_option_name(state.limits, limits, "limits of the look inside"), replace(state, limits=limits))


def set_profile(state: AppState, profile: Profile) -> Edit:
    """Compute suction and printed widths for this printer and resin. Nothing of the plan has to be looked up again."""
    before = state.profile
    after = replace(state, profile=profile)
    if before is None or before.name != profile.name:
        return Edit(f"Use profile {profile.name}", after)
    changed = [name for name in PROFILE_PARAMETERS if getattr(profile, name) != getattr(before, name)]
    if len(changed) != 1:
        return Edit(f"Change profile {profile.name}", after)
    parameter = PROFILE_PARAMETERS[changed[0]]
    value = f"{getattr(profile, parameter.name):g} {parameter.unit}".rstrip()
    return Edit(f"Set {parameter.label} to {value}", after)


def set_unit(state: AppState, solid: Solid, supports: Supports | None = None) -> Edit:
    """Take the same file in another unit (`solid` is the part so read): places grow with it, diameters do not.

    supports: those of the state, read in this unit as well; None: they were not, and are not minded.
    """
    if state.supports is not None and supports is None:
        supports = replace(state.supports, solid=None, problem=OTHER_UNIT)
    scale = solid.source.mm_per_unit / state.solid.source.mm_per_unit
    passages = tuple(_passage_scaled(passage, scale) for passage in state.plan.passages)
    plan = replace(state.plan, vents=tuple(_scaled(v, scale) for v in state.plan.vents), passages=passages)
    after = replace(
        state,
        solid=solid,
        plan=plan,
        set_aside=tuple(_scaled(v, scale) for v in state.set_aside),
        passages_aside=tuple(_passage_scaled(passage, scale) for passage in state.passages_aside),
        proposals=tuple((vent_id, _scaled(v, scale)) for vent_id, v in state.proposals),
        left_at=tuple((cavity, _times(at, scale)) for cavity, at in state.left_at),
        keep_clear=_marks_for(state, solid),
        supports=supports,
    )
    return Edit(f"Set unit to {solid.source.unit_assumed}", after)


def set_part(state: AppState, solid: Solid) -> Edit:
    """Take the file as it is now on disk. The plan is kept, and has to be looked up again; the surface to be kept clear
    only if the triangles are the same ones, wherever their corners lie."""
    return Edit("Read the file again", replace(state, solid=solid, keep_clear=_marks_for(state, solid)))


def _marks_for(state: AppState, solid: Solid) -> FaceMask | None:
    same = state.keep_clear is not None and np.array_equal(solid.faces, state.solid.faces)
    return state.keep_clear if same else None


def set_plan(state: AppState, saved: AppState) -> Edit:
    """Take a plan file as it is now on disk, with its part; a part that is the same stays the same object. A plan
    without a profile says nothing about it: the one in use stays."""
    saved = replace(saved, profile=saved.profile or state.profile)
    same = saved.solid.digest == state.solid.digest and saved.solid.source == state.solid.source
    return Edit("Read the plan again", replace(saved, solid=state.solid) if same else saved)


def looked_up(state: AppState, plan: Plan, left_at: tuple[tuple[str, Point], ...]) -> AppState:
    """The state whose plan was looked up in the current analysis, with the ids of cavities and cups found there.

    No edit of the user's: hand it to `history.amended`. Raises ValueError if a vent was lost or added on the way.
    """
    if [v.id for v in plan.vents] != [v.id for v in state.plan.vents]:
        raise ValueError("looking a plan up again keeps its vents")
    known = replace(plan, missing=())
    return replace(state, plan=known, left_at=left_at, plan_made_for=analysis_key(state))


def vent_of(state: AppState, vent_id: str) -> Vent:
    """The accepted vent of this id; raises InputError if there is none."""
    for vent in state.plan.vents:
        if vent.id == vent_id:
            return vent
    ids = ", ".join(v.id for v in state.plan.vents)
    raise InputError(
        f"The plan has no {_called(vent_id)}.", f"Choose one of: {ids}." if ids else "Accept a vent first."
    )


def _changed(state: AppState, vent: Vent, name: str, kind: str) -> Edit:
    vent_of(state, vent.id)
    return Edit(name, replace(state, plan=state.plan.with_vent(vent)), f"{kind} {vent.id}")


def _kept_current(state: AppState) -> AppState:
    """Before the first decision: the plan is made for the analysis that the user sees."""
    return replace(state, plan_made_for=analysis_key(state)) if state.is_untouched else state


def _free_id(plan: Plan, wanted: str) -> str:
    taken = {v.id for v in plan.vents}
    stem, digits = re.fullmatch(r"(.*?)(\d*)", wanted, re.DOTALL).groups()  # type: ignore[union-attr]
    number = int(digits or 1)
    while wanted in taken:
        number += 1
        wanted = f"{stem}{number}"
    return wanted


def _called(vent_id: str) -> str:
    return f"vent {re.sub(r'^[vV](?=[0-9])', '', vent_id)}"


def _number(value: float) -> str:
    """A length as the fields show it: one decimal at least, two at most, no zeros after the first; 2.125 is 2.13.

    Of a very small one two digits that count, so that a pitch of 0.025 mm is not called 0.03.
    """
    small = 0.0 < abs(value) < 0.095
    decimals = 2 if not small else 1 - math.floor(math.log10(abs(value)))
    scale = 10.0**decimals
    text = f"{math.floor(value * scale + 0.5 + 1e-9) / scale:.{decimals}f}".rstrip("0")
    return f"{text}0" if text.endswith(".") else text


def _option_name(before: T, after: T, several: str) -> str:
    """What is set to what. Both: options, rules or limits."""
    changed = [f.name for f in fields(after) if getattr(after, f.name) != getattr(before, f.name)]
    if changed in (["weights"], ["seen_from"]):
        return "Weigh places for vents otherwise" if changed == ["weights"] else "Look at the part from elsewhere"
    if len(changed) != 1:
        return f"Change the {several}"
    parameter, value = p.PARAMETERS[changed[0]], getattr(after, changed[0])
    shown = parameter.automatic if value is None else _number(value) if isinstance(value, float) else str(value)
    return f"Set {parameter.label} to {shown} {'' if value is None else parameter.unit}".rstrip()


def _scaled(vent: Vent, scale: float) -> Vent:
    entry, leave = _times(vent.entry_mm, scale), _times(vent.exit_mm, scale)
    return replace(vent, entry_mm=entry, exit_mm=leave, wall_mm=vent.wall_mm * scale)


def _passage_scaled(passage: Passage, scale: float) -> Passage:
    points = tuple(_times(point, scale) for point in passage.points_mm)
    outer = None if passage.outer is None else _scaled(passage.outer, scale)
    return replace(passage, points_mm=points, clearance_mm=passage.clearance_mm * scale, outer=outer)


def _times(point: Point, scale: float) -> Point:
    x, y, z = point
    return (x * scale, y * scale, z * scale)
