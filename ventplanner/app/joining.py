"""Passages as the user decides on them: which are offered, and the edits, each with the name that undo shows."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from itertools import count

from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState, analysis_key
from ventplanner.plan.model import Passage, Plan


def offered_passages(state: AppState, proposed: Plan) -> tuple[Passage, ...]:
    """Passages that were found, and are neither accepted nor set aside nor in a cavity that is left as it is; with ids
    that nothing decided bears. Those are also found that are only told of because none are asked for; none for a cup
    that an accepted passage starts in, wherever in it that was put."""
    found = (*proposed.passages, *(m.join for m in proposed.missing if m.join is not None))
    served = {(p.cavity, p.cup) for p in state.plan.passages if p.cup}
    decided = (*state.plan.passages, *state.passages_aside)
    alone = {cavity for cavity, _ in state.plan.left_alone}
    undecided = [p for p in found if (p.cavity, p.cup) not in served and not any(same_way(p, d) for d in decided)]
    open_ones = [p for p in undecided if p.cavity not in alone]
    borne = {p.id for p in decided}
    free = (f"P{n}" for n in count(1) if f"P{n}" not in borne | {p.id for p in open_ones})
    return tuple(p.called(next(free)) if p.id in borne else p for p in open_ones)


def same_way(one: Passage, other: Passage) -> bool:
    """True when both ends of one lie within those of the other."""
    room = max(one.radius_mm, other.radius_mm) + 1e-6
    return all(math.dist(one.points_mm[k], other.points_mm[k]) <= room for k in (0, -1))


def accept_passage(state: AppState, passage: Passage) -> Edit:
    """Take a passage into the plan."""
    aside = tuple(p for p in state.passages_aside if not same_way(p, passage))
    after = replace(_kept_current(state), plan=state.plan.with_passage(passage), passages_aside=aside)
    where = "the rest of it" if passage.to == passage.cavity else passage.to
    return Edit(f"Join {passage.cup or passage.cavity} to {where} inside", after)


def set_passage_aside(state: AppState, passage: Passage) -> Edit:
    """Do not offer this passage any more."""
    after = replace(_kept_current(state), passages_aside=(*state.passages_aside, passage))
    return Edit(f"Set aside passage {passage.id}", after)


def bring_passages_back(state: AppState, cavity: str) -> Edit:
    """Offer the passages of a cavity again that were set aside."""
    kept = tuple(p for p in state.passages_aside if p.cavity != cavity)
    return Edit(f"Bring back the passages of {cavity}", replace(state, passages_aside=kept))


def remove_passage(state: AppState, passage_id: str) -> Edit:
    """Take a passage out of the plan; where it was found it is offered again."""
    return Edit(f"Remove passage {passage_id}", replace(state, plan=state.plan.without_passage(passage_id)))


def set_passage_width(state: AppState, passage: Passage) -> Edit:
    """Take the passage of this id with another diameter; it has been measured anew."""
    name = f"Set diameter of passage {passage.id} to {passage.diameter_mm:g} mm"
    return Edit(name, replace(state, plan=state.plan.with_passage(passage)), f"width {passage.id}")


def move_passage(state: AppState, passage: Passage) -> Edit:
    """Put the accepted passage of this id elsewhere; it has been fitted there."""
    return Edit(f"Move passage {passage.id}", replace(state, plan=state.plan.with_passage(passage)))


def add_passage(state: AppState, passage: Passage) -> Edit:
    """Take a passage into the plan that was laid by hand; its id is free."""
    after = replace(_kept_current(state), plan=state.plan.with_passage(passage))
    return Edit(f"Add passage {passage.id}", after)


def free_name(state: AppState, offered: Iterable[Passage]) -> str:
    """An id that no passage bears, accepted, offered or set aside."""
    taken = {p.id for p in (*state.plan.passages, *state.passages_aside, *offered)}
    return next(name for name in (f"P{n}" for n in count(1)) if name not in taken)


def named(passages: Iterable[Passage], name: str) -> Passage | None:
    """The passage of this id."""
    return next((p for p in passages if p.id == name), None)


def _kept_current(state: AppState) -> AppState:
    """Before the first decision: the plan is made for the analysis that the user sees."""
    return replace(state, plan_made_for=analysis_key(state)) if state.is_untouched else state
