"""Widths by need, as the window asks for them: of the proposals, and of the accepted vents if the user wishes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.app.breathing import Breathing, flow_key
from ventplanner.app.dragging import others_of, resized
from ventplanner.app.state import AppState, fields_of, key_of, marks_key
from ventplanner.flow.ground import Ground
from ventplanner.flow.sizing import Memo, Size, sizes
from ventplanner.options import VentRules
from ventplanner.parameters import DIAMETER_MM
from ventplanner.plan.model import Passage, Plan, Vent
from ventplanner.plan.passage_width import as_wide_as_fits
from ventplanner.plan.passage_width import resized as passage_resized
from ventplanner.plan.refusal import with_place
from ventplanner.plan.sizing import ROUNDS, Sized, refitted, sized
from ventplanner.plan.venting import holes_of, tools_of
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

NO_WIDTH = "no width of it keeps the limits"


@dataclass(frozen=True, eq=False)
class SizedAll:
    """proposals: as they are offered, and what is asked of them and of the accepted ones. accepted, passages: those of
    the plan, each as wide as is asked of it where that fits: around its own axis, or with the same lowest line. stay:
    those that are not, by word ("vent 3"), each with the reason."""

    proposals: Sized
    accepted: tuple[Vent, ...]
    passages: tuple[Passage, ...] = ()
    stay: tuple[tuple[str, str], ...] = ()

    def told(self) -> str:
        """A sentence about what is not as wide as asked; "" if all is."""
        why = "; ".join(f"{word}, as {reason}" for word, reason in self.stay)
        return f"Not as wide as the limits ask: {why}." if why else ""


def sizing_key(state: AppState, offered: Sequence[Vent], profile: Profile) -> str:
    """Key of the widths: the flow, the rules, the accepted vents and the open proposals by name, names in use, and
    the surface to be kept clear."""
    vents = [[v.id, v.kind, *v.cut] for v in (*state.plan.vents, *offered)]
    rest = [v.id for v in state.set_aside], marks_key(state)
    return key_of("sizing", flow_key(state, profile), fields_of(state.rules), vents, *rest)


def size_all(found: Breathing, state: AppState, offered: Sequence[Vent], progress: Progress = silent) -> SizedAll:
    """Widths of the open proposals beside the accepted vents, and of these among themselves. found: the flow of this
    state."""
    basis = replace(found.ground, findings=found.ground.findings.keeping_clear(state.keep_clear))
    accepted = state.plan.vents
    taken = frozenset(v.id for v in state.set_aside)
    profile = found.after.profile
    inside = state.plan.passages
    proposals = sized(basis, profile, offered, state.rules, accepted, taken, progress, inside)
    plan, vents_stay = _vents_by_need(found, basis, state)
    plan, passages_stay = _passages_by_need(found, basis, plan, state.rules)
    return SizedAll(proposals, plan.vents, plan.passages, (*vents_stay, *passages_stay))


Stay = list[tuple[str, str]]


def _vents_by_need(found: Breathing, basis: Ground, state: AppState) -> tuple[Plan, Stay]:
    """The plan with its vents sized, and which stay why. A vent that moves with its width asks for another width then:
    they are sized again until they settle; of two widths that ask for each other a vent gets the wider one."""
    plan, stay = _sized_once(found.sizes, basis, state.plan, state.rules)
    before, memo = state.plan, Memo()
    for _ in range(ROUNDS):
        if plan.vents == before.vents:
            return plan, stay
        holes = holes_of(plan, basis.findings.scene.frame)
        asked = sizes(basis, found.after.profile, holes, memo=memo, with_speeds=False)
        before, (plan, stay) = plan, _sized_once(asked, basis, plan, state.rules)
    pairs = zip(before.vents, plan.vents, strict=True)
    return replace(plan, vents=tuple(max(pair, key=lambda vent: vent.diameter_mm) for pair in pairs)), stay


def _sized_once(asked: Mapping[str, Size], basis: Ground, plan: Plan, rules: VentRules) -> tuple[Plan, Stay]:
    """The plan with each vent as wide as is asked of it, where it fits, and which stay why."""
    stay: Stay = []
    for vent in plan.vents:
        size, word = asked.get(vent.id), f"vent {vent.id}"
        if size is None or _is_as_asked(size, vent.diameter_mm):
            continue
        if not np.isfinite(size.diameter):
            stay.append((word, NO_WIDTH))
            continue
        if vent.kind == "widen":
            stay.append((word, "it is an opening made wider: type its diameter"))
            continue
        others = others_of(plan, vent.id)
        wide = float(DIAMETER_MM.check(size.diameter))
        fitted: Vent | str | None = resized(basis.findings, vent, wide, others)
        why = str(fitted)
        if isinstance(fitted, str):  # a little higher, so that it does not cut into the floor
            plain = vent.outline.is_round and vent.countersink is None
            fitted = refitted(basis, vent, wide, others, rules) if plain else None
        if fitted is None:
            stay.append((word, f"with {size.diameter:g} mm {why}"))
        else:
            plan = plan.with_vent(replace(fitted, id=vent.id, cavity=vent.cavity, cup=vent.cup))
    return plan, stay


def _passages_by_need(found: Breathing, basis: Ground, plan: Plan, rules: VentRules) -> tuple[Plan, Stay]:
    """The plan with its passages sized, where no cup breathes worse for it, and which stay why."""
    stay: Stay = []
    for passage in plan.passages:
        size, word = found.sizes.get(passage.id), f"passage {passage.id}"
        if size is None or _is_as_asked(size, passage.diameter_mm):
            continue
        if not np.isfinite(size.diameter):
            stay.append((word, NO_WIDTH))
            continue
        made = as_wide_as_fits(basis.findings, plan, passage, size.diameter, rules)
        tried = plan.with_passage(made)
        if abs(made.diameter_mm - size.diameter) > 1e-6:
            why = passage_resized(basis.findings, plan, passage, size.diameter, rules)
            why = why if isinstance(why, str) else "it does not fit"
            stay.append((word, f"with {size.diameter:g} mm {with_place(basis.findings.scene.frame, why)}"))
        if _not_breathing(basis, tried) - _not_breathing(basis, plan):
            stay.append((word, f"with {made.diameter_mm:g} mm its cup would open too late"))
        else:
            plan = tried
    return plan, stay


def _not_breathing(basis: Ground, plan: Plan) -> set[str]:
    """Cups that do not breathe with a plan."""
    findings, found = basis.findings, set()
    after = findings.scene.cups(tools_of(findings, plan))
    for _, cup in basis.cups:
        number = int(after.cup_at((cup.cup.start + np.array([0.0, 0.0, 1e-4]))[None])[0])
        if number >= 0 and after.cups[number].state(findings.options) != "breathing":
            found.add(cup.id)
    return found


def _is_as_asked(size: Size, diameter: float) -> bool:
    return abs(size.diameter - diameter) < 1e-9
