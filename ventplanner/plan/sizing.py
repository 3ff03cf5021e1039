"""Proposed vents made as narrow as they may be: the smallest that keep the limits, where they fit.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import count

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.flow.ground import Ground
from ventplanner.flow.sizing import Memo, Size, sizes
from ventplanner.flow.ways import way_of_hole
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.rays import square_to
from ventplanner.options import VentRules
from ventplanner.plan.fitting import Fit, as_vent, fit, through, tool_of_vent, tools_of_vent
from ventplanner.plan.model import Passage, Plan, Vent
from ventplanner.plan.passage_width import as_wide_as_fits
from ventplanner.plan.spacing import LIGAMENT_MM, gap_of_tools
from ventplanner.plan.venting import hole_of, holes_of
from ventplanner.plan.widening import WIDEST_MM
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

WIDEST_ALONE_MM = WIDEST_MM
"""Where a vent would have to be wider than this, two beside each other are looked for: they spoil less."""

ROUNDS = 3
"""A vent that moves with its width asks for another width by a tenth of a mm or so."""

SIDES = 12
"""Places around a vent where a second one is tried."""

TWIN_SHARE = 0.9
"""A second one beside it is first tried with this share of the width: two holes of 0.84 carry what one does in creeping
flow through a tube (fourth power), 0.79 through a thin wall (third)."""

FLAT_MM = 0.02


@dataclass(frozen=True, eq=False)
class Sized:
    """vents: the proposals, sized, and the second ones that were added. sizes: what is asked of each of them, of the
    accepted ones and of the passages, by id."""

    vents: tuple[Vent, ...]
    sizes: Mapping[str, Size]


def sized(
    ground: Ground,
    profile: Profile,
    proposals: Sequence[Vent],
    rules: VentRules,
    accepted: Sequence[Vent] = (),
    taken: frozenset[str] = frozenset(),
    progress: Progress = silent,
    passages: Sequence[Passage] = (),
) -> Sized:
    """Proposals with the smallest diameters that keep the limits together with the accepted vents, which stay.

    A vent keeps its lowest point, so the cup opens where it did. Where it would be wider than `WIDEST_ALONE_MM`, or
    than fits, a second one is put beside it if there is room. What does not fit so wide gets as wide as fits there. No
    cup that breathes with the proposals as they were is left without: its vents stay as they were then. With
    `rules.size` "fixed" all diameters stay, and only what is asked is told. taken: ids that no new one may have.
    passages: they carry what flows through them, as they are. Deterministic.
    """
    work = _Work(ground, profile, rules, tuple(accepted), taken, tuple(passages))
    vents = tuple(proposals)
    if rules.size == "need":
        for step in range(ROUNDS):
            progress("Sizing vents", step / (ROUNDS + 1))
            before, vents = vents, work.fitted(vents, proposals)
            if vents == before:
                break
        vents = work.with_twins(vents)
        vents = work.breathing_still(vents, tuple(proposals))
    found = work.sizes(vents, last=True)
    progress("Sizing vents", 1.0)
    return Sized(tuple(_told(v, found.get(v.id), rules) for v in vents), found)


def refitted(ground: Ground, vent: Vent, diameter: float, others: Sequence[Vent], rules: VentRules) -> Vent | None:
    """A vent with another diameter (mm) and the same lowest point, else around the same axis, clear of others; None if
    it does not fit."""
    return _Work(ground, Profile(), rules, ()).refitted(vent, diameter, others)


def sized_plan(ground: Ground, profile: Profile, plan: Plan, rules: VentRules, progress: Progress = silent) -> Plan:
    """A plan of nothing but proposals, sized; see `sized`. Its passages are first made as wide as the vents need them,
    for nothing of them is seen, and then as narrow as they may be with the vents that follow."""
    if rules.size != "need" or not plan.passages:
        found = sized(ground, profile, plan.vents, rules, progress=progress, passages=plan.passages)
        return replace(plan, vents=found.vents)
    work = _Work(ground, profile, rules, (), passages=plan.passages).with_passages(plan.vents)
    found = sized(ground, profile, plan.vents, rules, progress=progress, passages=work.passages)
    work = work.with_passages(found.vents, vents_stay=True)
    asked = work.sizes(found.vents, free=work.names, vents_stay=True)
    passages = (replace(p, reason=_with_width(p, asked.get(p.id), rules)) for p in work.passages)
    return replace(plan, vents=found.vents, passages=tuple(passages))


@dataclass(frozen=True, eq=False)
class _Work:
    ground: Ground
    profile: Profile
    rules: VentRules
    accepted: tuple[Vent, ...]
    taken: frozenset[str] = frozenset()
    passages: tuple[Passage, ...] = ()
    memo: Memo = field(default_factory=dict)

    @cached_property
    def legs(self) -> tuple[Vent, ...]:
        """The straight holes of the passages."""
        return Plan(passages=self.passages).drills

    @property
    def names(self) -> frozenset[str]:
        """Of the passages and their ways out."""
        return frozenset(hole.name for hole in holes_of(Plan(passages=self.passages), self.findings.scene.frame))

    def with_passages(self, vents: Sequence[Vent], *, vents_stay: bool = False) -> _Work:
        """The same with each passage as wide as is asked, or as fits, if all breathes then that did."""
        work, was = self, self._bad(vents)
        for passage in self.passages:
            size = work.sizes(vents, free=work.names, vents_stay=vents_stay).get(passage.id)
            want = passage.diameter_mm if size is None or np.isinf(size.diameter) else size.diameter
            plan = Plan((*self.accepted, *vents), passages=work.passages)
            made = as_wide_as_fits(self.findings, plan, passage, want, self.rules)
            tried = replace(work, passages=plan.with_passage(made).passages, memo={})
            work = work if tried._bad(vents) - was else tried
        return work

    @property
    def findings(self) -> Findings:
        return self.ground.findings

    def sizes(
        self,
        vents: Sequence[Vent],
        *,
        last: bool = False,
        free: frozenset[str] = frozenset(),
        vents_stay: bool = False,
    ) -> dict[str, Size]:
        """What is asked of all; accepted and widened ones keep their width, and what they cannot do others must; so do
        passages that are not `free`."""
        every = (*self.accepted, *vents)
        needed = self.rules.size == "need"
        stay = frozenset(v.id for v in every if needed and (vents_stay or v in self.accepted or v.kind == "widen"))
        frame = self.findings.scene.frame
        inside = holes_of(Plan(passages=self.passages), frame)
        stay |= self.names - free
        holes = [*(hole_of(v, frame) for v in every), *inside]
        least = self.rules.least_mm if needed else 0.0
        found = sizes(self.ground, self.profile, holes, least=least, fixed=stay, memo=self.memo, with_speeds=last)
        if stay:  # what those ask that stay is told as if they did not
            freely = sizes(self.ground, self.profile, holes, memo=self.memo, with_speeds=last)
            found |= {name: freely[name] for name in stay}
        return found

    def fitted(self, vents: tuple[Vent, ...], original: Sequence[Vent]) -> tuple[Vent, ...]:
        """Each vent as wide as is asked, or as fits."""
        asked, done = self.sizes(vents), list(vents)
        for k, vent in enumerate(vents):
            want = _wanted(asked.get(vent.id), vent)
            if vent.kind == "widen" or abs(want - vent.diameter_mm) < 1e-9:
                continue
            others = (*self.accepted, *done[:k], *done[k + 1 :])
            base = next((v for v in original if v.id == vent.id), vent)
            done[k] = self._as_near_as_fits(base, want, others) or vent
        return tuple(done)

    def _as_near_as_fits(self, vent: Vent, want: float, others: Sequence[Vent]) -> Vent | None:
        """The vent with this diameter; or, in tenths of a mm, the next to it on the side where it is now."""
        found = self.refitted(vent, want, others)
        step = 1 if want < vent.diameter_mm else -1
        tenths = range(round(10.0 * want) + step, round(10.0 * vent.diameter_mm), step)
        tries = (self.refitted(vent, 0.1 * k, others) for k in tenths)
        return found or next((fitted for fitted in tries if fitted is not None), None)

    def refitted(self, vent: Vent, diameter: float, others: Sequence[Vent]) -> Vent | None:
        """See the function of this name."""
        frame = self.findings.scene.frame
        outwards = -frame.direction_to_build(np.asarray(vent.axis))
        inner = frame.to_build(np.asarray([vent.exit_mm]))[0]
        down = np.array([0.0, 0.0, -1.0]) + outwards[2] * outwards
        length = float(np.linalg.norm(down))
        shift = down / length * 0.5 * (vent.diameter_mm - diameter) if length > FLAT_MM else np.zeros(3)
        for moved in (shift, np.zeros(3)) if length > FLAT_MM else (shift,):
            found = self._fit(vent, inner + moved, outwards, diameter, others)
            if found is not None:
                return found
        return None

    def _fit(
        self, vent: Vent, inner: np.ndarray, outwards: np.ndarray, diameter: float, others: Sequence[Vent]
    ) -> Vent | None:
        found = fit(self.findings, inner, outwards, 0.5 * round(diameter, 1), (0.0, vent.wall_mm))
        if not isinstance(found, Fit) or found.wall > self.rules.longest_wall_mm:
            return None
        reason = vent.reason.replace(through(vent.wall_mm), through(found.wall))
        made = as_vent(self.findings, found, vent.id, (vent.cavity, vent.cup, vent.kind), reason)
        made = replace(made, diameter_mm=round(diameter, 1))
        leads = way_of_hole(hole_of(made, self.findings.scene.frame), self.ground.rooms) is not None
        return made if leads and _clear(self.findings, made, (*others, *self.legs)) else None

    def with_twins(self, vents: tuple[Vent, ...]) -> tuple[Vent, ...]:
        """Second vents beside those that would be too wide."""
        asked, done = self.sizes(vents), vents
        for vent in vents:
            want = _wanted(asked.get(vent.id), vent)
            if vent.kind != "widen" and (want > vent.diameter_mm + 1e-9 or vent.diameter_mm > WIDEST_ALONE_MM):
                done = self._pair(vent, done) or done
        for vent in self.accepted:
            size = asked.get(vent.id)
            if size is not None and vent.kind != "widen" and size.diameter > max(WIDEST_ALONE_MM, vent.diameter_mm):
                done = self._second(vent, done) or done
        return done

    def _pair(self, vent: Vent, vents: tuple[Vent, ...]) -> tuple[Vent, ...] | None:
        """All vents with a second one beside this one, both narrower than it would be alone; None if there is none."""
        alone = _wanted(self.sizes(vents).get(vent.id), vent)
        wide = round(TWIN_SHARE * alone, 1)
        rest = tuple(v for v in vents if v.id != vent.id)
        first = self.refitted(vent, wide, (*self.accepted, *rest))
        if first is None:
            return None
        name = self._free_id(vents)
        for second in self._beside(replace(first, id=name), (*self.accepted, *rest, first)):
            at = [v.id for v in vents].index(vent.id)
            both = (*vents[:at], first, *vents[at + 1 :], second)
            for _ in range(ROUNDS):
                both = self.fitted(both, both)
            asked = self.sizes(both)
            one, two = (next(v for v in both if v.id == n) for n in (vent.id, name))
            if all(asked[v.id].diameter <= v.diameter_mm + 1e-9 for v in (one, two)) and one.diameter_mm < alone:
                beside = f"Beside vent {vent.id}: two of {one.diameter_mm:g} mm do what one of {alone:g} mm would."
                return tuple(replace(v, reason=beside) if v.id == name else v for v in both)
        return None

    def _free_id(self, vents: Sequence[Vent]) -> str:
        used = {*self.taken, *(v.id for v in (*self.accepted, *vents))}
        return next(str(n) for n in count(1) if str(n) not in used)

    def _second(self, vent: Vent, vents: tuple[Vent, ...]) -> tuple[Vent, ...] | None:
        """The proposals with one beside an accepted vent that would have to be too wide alone; None if none helps."""
        name = self._free_id(vents)
        for second in self._beside(replace(vent, id=name), (*self.accepted, *vents)):
            more = self.fitted((*vents, second), (*vents, second))
            if self.sizes(more)[name].diameter <= more[-1].diameter_mm + 1e-9:
                reason = f"Beside vent {vent.id}, which alone would have to be too wide."
                return (*more[:-1], replace(more[-1], reason=reason))
        return None

    def _beside(self, vent: Vent, others: Sequence[Vent]) -> list[Vent]:
        """Places for the same vent beside itself: at its own height first."""
        frame = self.findings.scene.frame
        outwards = -frame.direction_to_build(np.asarray(vent.axis))
        inner = frame.to_build(np.asarray([vent.exit_mm]))[0]
        across, along = square_to(outwards)
        angle = np.arange(SIDES) * (2.0 * np.pi / SIDES)
        steps = np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * along
        # Level ones first: they begin to breathe together.
        steps = steps[np.lexsort((np.arange(SIDES), np.round(np.abs(steps[:, 2]), 6)))]
        apart = vent.diameter_mm + LIGAMENT_MM + 0.1
        found = (self._fit(vent, inner + apart * step, outwards, vent.diameter_mm, others) for step in steps)
        return [v for v in found if v is not None]

    def breathing_still(self, vents: tuple[Vent, ...], before: tuple[Vent, ...]) -> tuple[Vent, ...]:
        """The vents, with those as they were before in whose cup something would no longer breathe."""
        was = self._bad(before)
        lost = self._bad(vents) - was
        if not lost:
            return vents
        cavities = {c.id for c in self.findings.cavities for cup in c.cups if cup.id in lost}
        kept = {v.id for v in before}
        back = {v.id: v for v in before if v.cavity in cavities}
        vents = tuple(back.get(v.id, v) for v in vents if v.id in kept or v.cavity not in cavities)
        return before if self._bad(vents) - was else vents

    def _bad(self, vents: Sequence[Vent]) -> set[str]:
        """Cups that do not breathe with these vents and the accepted ones."""
        tools: tuple[Tool, ...] = tuple(tool_of_vent(self.findings, v) for v in (*self.accepted, *vents, *self.legs))
        after, found = self.findings.scene.cups(tools), set()
        for _, cup in self.ground.cups:
            number = int(after.cup_at((cup.cup.start + np.array([0.0, 0.0, 1e-4]))[None])[0])
            if number >= 0 and after.cups[number].state(self.findings.options) != "breathing":
                found.add(cup.id)
        return found


def _wanted(size: Size | None, vent: Vent) -> float:
    """mm: what is asked, as far as any width helps."""
    if size is None:
        return vent.diameter_mm
    if np.isfinite(size.diameter):
        return size.diameter
    finite = [need.diameter for need in size.needs if np.isfinite(need.diameter)]
    return max(vent.diameter_mm, *finite)


def _clear(findings: Findings, vent: Vent, others: Sequence[Vent]) -> bool:
    """Whether a ligament stays to every other vent."""
    own = tools_of_vent(findings, vent)
    theirs = [tool for other in others for tool in tools_of_vent(findings, other)]
    return all(gap_of_tools(one, tool) >= LIGAMENT_MM for tool in theirs for one in own)


def _told(vent: Vent, size: Size | None, rules: VentRules) -> Vent:
    """The vent with a word on its width in its reason."""
    if vent.kind == "widen":
        return vent
    return replace(vent, reason=_with_width(vent, size, rules))


def _with_width(hole: Vent | Passage, size: Size | None, rules: VentRules) -> str:
    if rules.size != "need" or size is None:
        return hole.reason
    need, wide, asked = size.binding, f"{hole.diameter_mm:g} mm", f"{size.diameter:g} mm"
    if np.isinf(size.diameter):
        why = f"{wide}, but {need.why}"
    elif hole.diameter_mm < size.diameter - 1e-9:
        why = f"{wide} is as wide as fits there; {asked} would keep the limits"
    elif hole.diameter_mm > size.diameter + 1e-9:
        why = f"{wide}: narrower does not fit there, or opens its cup too late; {asked} would keep the limits"
    elif size.diameter > need.diameter + 0.1:
        why = f"{wide}, the least diameter: the limits ask for less"
    else:
        why = f"{wide}: {need.why}"
    return f"{hole.reason} {why[:1].upper()}{why[1:]}."
