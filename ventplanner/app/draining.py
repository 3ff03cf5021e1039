"""The job `drain`: how a part with its vents empties after the print, in words that a person can follow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.app.directions import SIDES, in_words, side
from ventplanner.app.jobs import Wish, find
from ventplanner.draining.changes import Change, changes
from ventplanner.draining.model import Drained, Left, Pool, Ran, Step
from ventplanner.draining.planning import baths_of, drain, hold
from ventplanner.draining.reaching import Reached, reached
from ventplanner.io.wording import place
from ventplanner.plan.model import Plan, Point
from ventplanner.progress import Progress, silent

CAUTIONS = (
    "Uncured resin is a skin sensitiser. Wear nitrile gloves, change them at once after a splash, and do not use them"
    " again: thin gloves are no full protection with alcohol (Contact Dermatitis 2017, 77, 349). Protect your eyes.",
    "Alcohol is highly flammable (flash point of isopropyl alcohol 12 °C): air the room, no flames or sparks, no"
    " ultrasonic or heated bath that is not made for it.",
    "Follow the safety data sheets of resin and alcohol. Cure with light until it is solid what ran out, and what used"
    " alcohol leaves, and dispose of it by local rules; pour nothing down the drain.",
)

WORTH_SHARE, WORTH_MM3 = 0.01, 20.0
"""Pools above this share of what the hollows hold, and above so many mm3, are something left to do (own judgement)."""

LEAST_MM3 = 5.0
"""Pools smaller than this are not told one by one."""

MOST_POCKETS = 3
"""Blind pockets of a cavity that are told one by one."""

DAY_HOURS = 24.0

STRAIGHT = "jet, brush, light"
"""What goes in a straight line."""

LIT = 0.9
"""Light from outside cures a cavity of which this share is reached (own judgement)."""

LAMP_MM = 3.0
"""Width of the narrowest lamps on a wire (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class DrainedPart:
    """A finished `drain` job: the plan, what each step says, why what stays stays, and what reaches the inside."""

    findings: Findings
    plan: Plan
    done: Drained
    moves: tuple[str, ...]
    reasons: tuple[str, ...]
    reached: tuple[Reached, ...]
    advice: tuple[str, ...]
    changes: tuple[Change, ...] = ()

    @property
    def is_left(self) -> bool:
        """Whether more stays than a little, but for cavities that are left as they are on purpose."""
        return is_much(self.done, self.plan)

    @property
    def is_given(self) -> bool:
        """Whether the poses were given, not looked for."""
        return self.done.steps[0].how == "held"


def is_much(done: Drained, plan: Plan) -> bool:
    """Whether more stays than a little, but for cavities that are left as they are on purpose."""
    alone = dict(plan.left_alone)
    left = sum(one.volume for one in done.left_where if one.cavity not in alone)
    return left > max(WORTH_SHARE * done.full, WORTH_MM3)


def not_alone(done: Drained, plan: Plan) -> Drained:
    """The same, without what stays in cavities that are left as they are on purpose."""
    alone = dict(plan.left_alone)
    return replace(done, left_where=tuple(left for left in done.left_where if left.cavity not in alone))


def drain_part(wish: Wish, progress: Progress = silent, downs: Sequence[Point] = ()) -> DrainedPart:
    """Read, analyse and drain the part of a wish, with the vents of its saved plan if it has one. downs: directions in
    the file's axes that point down one after the other; none: they are looked for, and what would bring out more, too.
    Raises what `ventplanner.app.jobs.find` raises."""
    findings = find(wish, progress)
    saved = wish.saved.plan if wish.saved is not None else Plan()
    plan = replace(saved, part=findings.part.digest, pose=findings.pose, options=findings.options)
    if downs:
        _, bath = baths_of(findings, plan, wish.profile, progress)
        ways = [findings.scene.frame.direction_to_build(np.array(down, dtype=float)) for down in downs]
        ups = [-way / np.linalg.norm(way) for way in ways]
        return told(findings, plan, hold(findings, bath, ups, wish.profile))
    part = told(findings, plan, drain(findings, plan, wish.profile, progress))
    if not part.is_left:
        return part
    better = changes(findings, plan, not_alone(part.done, plan), wish.profile, progress)
    return replace(part, changes=better, advice=(*map(would_help, better), *part.advice))


def told(findings: Findings, plan: Plan, done: Drained) -> DrainedPart:
    """A pour plan with its words."""
    within = reached(findings, done)
    moves = tuple(move(done, n) for n in range(len(done.steps)))
    reasons = tuple(reason(left, plan) for left in done.left_where)
    return DrainedPart(findings, plan, done, moves, reasons, within, advice(findings, done, within))


def down(gravity: Point) -> str:
    """Which side, edge or corner of the part points down."""
    parts = [(axis, v) for axis, v in zip("XYZ", gravity, strict=True) if abs(v) > 1e-6]
    names = [SIDES[f"{'+' if v > 0 else '−'}{axis}"] for axis, v in sorted(parts, key=lambda p: -abs(p[1]))]
    alike = max(abs(v) for _, v in parts) - min(abs(v) for _, v in parts) < 1e-6
    if len(names) == 1 or not alike:
        return f"the {side(gravity)} down"
    if len(names) == 2:
        return f"the edge between {names[0]} and {names[1]} down ({in_words(gravity)})"
    return f"the corner of {names[0]}, {names[1]} and {names[2]} down ({in_words(gravity)})"


def move(done: Drained, number: int) -> str:
    """What to do in a step, as one sentence."""
    step = done.steps[number]
    if step.how == "hanging":
        return f"It hangs on the plate, {down(step.gravity)}."
    if step.how == "held":
        return f"Hold it with {down(step.gravity)}."
    if step.how == "taken off":
        return f"Take it off the plate and go on holding it so, {down(step.gravity)}."
    before = np.asarray(done.steps[number - 1].gravity)
    cosine = float(np.clip(before @ np.asarray(step.gravity), -1.0, 1.0))
    over = np.asarray(step.gravity) - cosine * before
    if cosine < -1.0 + 1e-6:
        axis = np.eye(3)[int(np.argmin(np.abs(before)))]
        over = axis - (axis @ before) * before
    first = SIDES[_nearest(over)]
    angle = round(math.degrees(math.acos(cosine)))
    shake = " Shake it: its only way out is too narrow to let air in by itself." if step.shake else ""
    return f"Turn it slowly by {angle}°, its {first} side going down first, until it has {down(step.gravity)}.{shake}"


def _nearest(direction: np.ndarray) -> str:
    k = int(np.argmax(np.abs(direction)))
    return f"{'+' if direction[k] > 0 else '−'}{'XYZ'[k]}"


def reason(left: Left, plan: Plan) -> str:
    """Why something stays, and that it may: in sentences."""
    notes = dict(plan.left_alone)
    if left.cavity not in notes:
        return _why(left)
    note = f": {notes[left.cavity]}" if notes[left.cavity] else ""
    return f"{_why(left)} It is left as it is{note}."


def _why(left: Left) -> str:
    at = f"{place(left.at_mm)} mm"
    return {
        "sealed": "It has no way out.",
        "no air": "Air cannot get in: its ways out are too narrow, or too near each other in height, to take turns.",
        "pool": f"It lies below the lowest way out in this pose, deepest at {at}.",
        "outer dip": f"It stands in a dip of the outer skin, deepest at {at}.",
    }[left.why]


def pool_text(pool: Pool) -> str:
    """A pool with its heights, as a sentence."""
    within = f"in cavity {pool.cavity}" if pool.cavity else "in a dip of the outer skin"
    surface = f"{ml(pool.volume)} {within}, surface at {pool.level_mm:.2f} mm"
    if pool.spill_mm is None or pool.room is None:
        over = "it has no way out"
    elif pool.room <= 0.0:
        over = "full up to where it runs over"
    else:
        over = f"runs over at {pool.spill_mm:.2f} mm, with {ml(pool.room)} more"
    at = f"{place(pool.at_mm)} mm"
    return f"Pool: {surface}; {over}; {pool.depth_mm:.2f} mm deep, deepest at {at}."


def would_help(change: Change) -> str:
    """What a change would bring, as a sentence."""
    first, *more = change.vents
    if change.is_offered:
        names = " and ".join(vent.id for vent in change.vents)
        what = f"the proposals {names}, accepted," if more else f"the proposal {names}, accepted,"
        return (
            f"Cavity {change.cavity}: {what} would leave {ml(change.left)} in the part instead of {ml(change.before)}."
        )
    at = f"{place(first.entry_mm)} mm"
    what = (
        f"Vent {change.replaces}, moved to {at}," if change.replaces else f"A vent of {first.diameter_mm:g} mm at {at}"
    )
    for vent in more:
        what += f" and one at {place(vent.entry_mm)} mm"
    return f"Cavity {change.cavity}: {what} would leave {ml(change.left)} in the part instead of {ml(change.before)}."


def where(ran: Ran, plan: Plan) -> str:
    """What ran out of a cavity, in words."""
    kind = "vent" if any(vent.id == ran.through for vent in plan.vents) else "passage"
    through = f" through {kind} {ran.through}" if ran.through else ""
    to = f" into cavity {ran.to}" if ran.to else ""
    return f"cavity {ran.cavity} {ml(ran.volume)}{through}{to}"


def ran_out(step: Step, plan: Plan) -> str:
    """What runs out in a step, as a sentence."""
    return f"Runs out: {', '.join(where(ran, plan) for ran in step.ran)}." if step.ran else "Nothing runs out."


def left_texts(part: DrainedPart) -> tuple[str, ...]:
    """Where what stays in pools stays, and why, but for what is too little to tell."""
    return tuple(
        f"{f'Cavity {one.cavity}' if one.cavity else 'Outside'}: {ml(one.volume)}. {text}"
        for one, text in zip(part.done.left_where, part.reasons, strict=True)
        if one.volume >= LEAST_MM3
    )


def clings(done: Drained) -> str:
    """What stays besides, in two sentences."""
    film = f"Clings to the walls as a film: about {ml(done.film)}."
    return f"{film} At most, if drops hang in every hole: {ml(done.at_most)} in all."


def ml(mm3: float) -> str:
    """A volume in mL, with the digits that count."""
    return f"{mm3 / 1000.0:.2f} mL" if mm3 < 10_000.0 else f"{mm3 / 1000.0:.1f} mL"


def lasts(step: Step) -> str:
    """How long to wait, in words."""
    if step.wait_s < 1.0:
        return "no need to wait"
    own, most = _time(step.wait_s), _time(step.wait_most_s)
    if not step.ran:
        return f"wait {own} for the film on the walls"
    return f"wait {own}" if own == most else f"wait {own}, up to {most} if the resin is thicker"


def _time(seconds: float) -> str:
    if seconds < 120.0:
        return f"{math.ceil(seconds / 5.0) * 5} s"
    return f"{math.ceil(seconds / 60.0)} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"


def advice(findings: Findings, done: Drained, within: tuple[Reached, ...]) -> tuple[str, ...]:
    """Sentences on rinsing and on the last cure, for each cavity."""
    texts: list[str] = []
    for one in within:
        name, seriously = f"Cavity {one.cavity}", warnings(findings, done, (one,))
        texts += seriously
        if _is_shut(findings, done, one):
            continue
        texts.append(f"{name}: {round(100 * one.share)} % of its inside is reached in a straight line ({STRAIGHT}).")
        if one.rinses:
            texts.append(f"{name}: fill and empty it {one.rinses} times, each time with clean alcohol.")
        if one.pockets:
            texts.append(f"{name} has {_blind(one)}.")
        if one.share < LIT:
            texts.append(f"{name}: light from outside does not cure all of it; {_lamp(one)}.")
    return tuple(texts)


def warnings(findings: Findings, done: Drained, within: tuple[Reached, ...]) -> tuple[str, ...]:
    """Sentences on cavities that keep liquid resin: the part is not to be cured so."""
    why = {left.cavity: left for left in done.left_where}
    texts = []
    for one in within:
        name = f"Cavity {one.cavity}"
        if _is_shut(findings, done, one):
            texts.append(f"{name} cannot be emptied or rinsed: do not cure the part before it is opened.")
        elif one.cavity in why and why[one.cavity].why in ("sealed", "no air"):
            texts.append(f"{name} keeps liquid resin: do not cure the part as it is; what is locked in cures later.")
    return tuple(texts)


def inside_rows(findings: Findings, done: Drained, within: tuple[Reached, ...]) -> tuple[tuple[str, ...], ...]:
    """The figures of `advice` as a table (`sheet.compose.INSIDE`): a row for each cavity that can be emptied."""
    return tuple(
        (
            one.cavity,
            f"{round(100 * one.share)} %",
            f"{one.rinses} times" if one.rinses else "",
            "; ".join(f"{depth}: {soaks}" for depth, soaks in _pockets(one)) + _more(one) or "none",
            f"not all; {_lamp(one)}" if one.share < LIT else "from outside",
        )
        for one in within
        if not _is_shut(findings, done, one)
    )


def _is_shut(findings: Findings, done: Drained, one: Reached) -> bool:
    """Whether there is no way into a cavity, not even from another one."""
    return one.widest_mm == 0.0 and not any(
        m.name for m in done.bath.doors.mouths if findings.cavities[m.cavity].id == one.cavity
    )


def _lamp(one: Reached) -> str:
    return f"a lamp of up to {one.widest_mm:.1f} mm fits in" if one.widest_mm >= LAMP_MM else "no lamp fits in"


def _blind(one: Reached) -> str:
    """The blind pockets of a cavity, as the end of a sentence."""
    told = "; ".join(f"{depth}, soaking alone would take {soaks}" for depth, soaks in _pockets(one)) + _more(one)
    if len(one.pockets) == 1:
        return f"a blind pocket {told}: flush it with a syringe, or open it with another hole"
    return f"{len(one.pockets)} blind pockets: {told}. Flush them with a syringe, or open them"


def _pockets(one: Reached) -> list[tuple[str, str]]:
    """How deep the blind pockets of a cavity are and where, and how long each soaks."""
    return [(f"{p.depth_mm:.0f} mm deep at {place(p.at_mm)} mm", _soaks(p.soak_s)) for p in one.pockets[:MOST_POCKETS]]


def _more(one: Reached) -> str:
    more = len(one.pockets) - MOST_POCKETS
    return f"; {more} more, shallower" if more > 0 else ""


def _soaks(seconds: float) -> str:
    hours = seconds / 3600.0
    return f"{hours:.0f} hours" if hours < 3 * DAY_HOURS else f"{hours / DAY_HOURS:.0f} days"
