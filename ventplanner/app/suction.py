"""Suction in words and figures, as the window tells it: of a cavity or cup, of a vent, of the whole part. Qt-free.

Pressures are told in kPa, forces in N, speeds in mm/min; lengths in mm, which the window may turn into inches.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ventplanner.app.breathing import Breathing, Demand, demand
from ventplanner.app.left import Left
from ventplanner.flow.model import Flow, RoomFlow
from ventplanner.flow.sizing import OVERPRESSURE, PRINTS, SUCTION, speed_for
from ventplanner.flow.suction import CREEPING
from ventplanner.plan.model import Plan, Vent
from ventplanner.profile import Profile
from ventplanner.profile_parameters import LIFT_SPEED

Pairs = Sequence[tuple[Vent, Demand]]

SEALED_SHARE = 0.999
"""A suction of so much of the pressure of the air is one that only the air's pressure ends."""

ENDS_SHARE = 0.5
"""A bulge of more than so much of the wall is no small one, as the plate formula takes it (Timoshenko &
Woinowsky-Krieger 1959, art. 1)."""

BEYOND_SENSE_PA = 1e6
"""A stiff hollow without a way out would be pressed without end; every film and wall gives way before."""

COMPENSATION_MM = 0.2
WAIT_S = 1.0


@dataclass(frozen=True)
class Pull:
    """The worst of some rooms. suction, startup, overpressure: Pa; span: Pa, least and most that the suction may be.
    force: N. height: of the largest suction of all, mm. closed: nothing but the pressure of the air ends the suction;
    closed_first: so it is until a vent is whole. over: whether suction or overpressure is beyond the limit."""

    suction: float
    span: tuple[float, float]
    startup: float
    overpressure: float
    force: float
    height: float
    closed: bool
    closed_first: bool
    over: bool


def rows_of(flow: Flow, kind: str, name: str) -> tuple[RoomFlow, ...]:
    """The rooms of a "cavity" or a "cup"."""
    return tuple(row for row in flow.cups if (row.cavity if kind == "cavity" else row.cup) == name)


def pull(rows: Sequence[RoomFlow], profile: Profile) -> Pull | None:
    """The worst of these rooms; None without any."""
    if not rows:
        return None
    limit = 1000.0 * profile.suction_limit_kpa
    worst = max(rows, key=lambda r: max(r.peak_suction, r.startup_suction))
    steady = max(rows, key=lambda r: r.peak_suction)
    startup, over = max(r.startup_suction for r in rows), max(r.peak_overpressure for r in rows)
    return Pull(
        suction=steady.peak_suction,
        span=steady.span,
        startup=startup,
        overpressure=over,
        force=max(r.peak_force for r in rows),
        height=worst.height,
        closed=is_all(steady.peak_suction, profile),
        closed_first=is_all(startup, profile),
        over=max(steady.peak_suction, startup, over) > limit,
    )


def is_all(pressure: float, profile: Profile) -> bool:
    """Whether a suction is as much as the air can press."""
    return pressure >= SEALED_SHARE * profile.air_pressure_pa


def kpa(pressure: float) -> str:
    """A pressure in Pa as kPa: two digits that count; beyond all sense only that it is."""
    return f"{_two(0.001 * pressure)} kPa" if pressure < BEYOND_SENSE_PA else "over 1000 kPa"


def newton(force: float) -> str:
    """A force in N."""
    return f"{_two(force)} N"


def speed(mm_min: float) -> str:
    """A speed that must not be passed: rounded down."""
    step = 10.0 if mm_min >= 100.0 else 1.0 if mm_min >= 10.0 else 0.1
    return f"{math.floor(mm_min / step + 1e-9) * step:g} mm/min"


def is_any(mm_min: float) -> bool:
    """Whether no printer lifts as fast."""
    return mm_min > (LIFT_SPEED.highest or math.inf)


def _two(value: float) -> str:
    if value < 0.005:
        return "0"
    return f"{value:.0f}" if value >= 9.95 else f"{value:.1f}" if value >= 0.995 else f"{value:.2f}"


def flags(rows: Iterable[RoomFlow], found: Breathing) -> tuple[str, ...]:
    """Where the figures are rough, and what else is to be known: sentences. found: the rows are of its `after`."""
    profile, thinnest = found.after.profile, found.ground.thinnest
    rows, said = tuple(rows), []
    fast = max((r.reynolds for r in rows), default=0.0)
    if fast > CREEPING:
        said.append(f"The flow through its vents is fast (Reynolds number {fast:.0f}): above 10 the figures are rough.")
    late = [r for r in rows if is_all(r.startup_suction, profile)]
    if late and not any(is_all(r.peak_suction, profile) for r in rows):
        said.append(
            f"It is closed until a vent is begun, worst at {late[0].height:.1f} mm: a vent nearer the start ends that."
        )
    bulge = max((r.bulge for r in rows), default=0.0)
    if bulge > 0.01 * profile.flex_share_percent * thinnest and bulge > 0.0:
        share = bulge / thinnest
        if share > ENDS_SHARE:
            said.append(
                f"A flat wall of {thinnest:.1f} mm would bulge more than half its thickness: the estimate ends there."
            )
        else:
            said.append(f"A flat wall of {thinnest:.1f} mm may bulge by {bulge:.2f} mm, {100 * share:.0f} % of it.")
    for row in (r for r in rows if r.draws_air):
        said.append(
            f"From {row.draws_air_from:.1f} to {row.draws_air_to:.1f} mm the vents of {row.name} lie above the resin"
            f" and draw in air: at last {0.001 * row.air_mm3:.1f} mL of it are empty of resin."
        )
    return tuple(said)


def hollows(flow: Flow) -> tuple[RoomFlow, ...]:
    """Rooms that are no cavity of the findings: open, and yet narrow enough to suck."""
    return tuple(row for row in flow.cups if row.cavity is None)


def remarks(found: Breathing, plan: Plan) -> tuple[Left, ...]:
    """Vents that are too small for the limits: a sentence for those of each hollow, with the ways out."""
    alone = {cavity for cavity, _ in plan.left_alone}
    groups: dict[str, list[tuple[Vent, Demand]]] = {}
    for vent in plan.vents:
        asked = demand(found, plan, vent)
        if asked is not None and vent.cavity and vent.cavity not in alone:
            groups.setdefault(asked.row.name if asked.row else vent.cavity, []).append((vent, asked))
    return tuple(told for pairs in groups.values() for told in _about(pairs, found.after.profile))


def at_first(found: Breathing, plan: Plan) -> str:
    """Who sucks beyond the limit only until its first hole is whole: a clause to be told last, "" if nobody does. A
    wider one does not help there, and all other limits are kept."""
    profile = found.after.profile
    alone = {cavity for cavity, _ in plan.left_alone}
    limit = 1000.0 * profile.suction_limit_kpa
    names = [
        row.name
        for row in found.after.cups
        if row.startup_suction > limit >= max(row.peak_suction, 0.0 if row.capped else row.steady_overpressure)
        and row.cavity not in alone
    ]
    if not names:
        return ""
    whose, verb = ("its first hole is", "sucks") if len(names) == 1 else ("their first holes are", "suck")
    return f"until {whose} whole, {_and(names)} {verb} beyond the limit of {profile.suction_limit_kpa:g} kPa"


def _about(pairs: Pairs, profile: Profile) -> Iterable[Left]:
    """The vents of one hollow: the first of the limits that they do not keep, and whether they print at all."""
    row, limit = pairs[0][1].row, 1000.0 * profile.suction_limit_kpa
    said = None
    if row is not None and row.peak_suction > limit:
        said = _too_small(pairs, profile, SUCTION, row.peak_suction)
    elif row is not None and not row.capped and row.steady_overpressure > limit:
        said = _too_small(pairs, profile, OVERPRESSURE, row.steady_overpressure)
    if said is not None:
        yield said
    if thin := _smaller(pairs, PRINTS):
        size = max(d.need(PRINTS).diameter for _, d in thin)
        yield Left(f"{_listed(thin)} may print closed: {_up(size):.1f} mm{_each(thin)}.", f"vent {thin[0][0].id}")


def _smaller(pairs: Pairs, condition: str) -> Pairs:
    """Those that are narrower than a condition asks."""
    return [(v, d) for v, d in pairs if d.need(condition).diameter > v.diameter_mm + 1e-9]


def _too_small(pairs: Pairs, profile: Profile, condition: str, pressure: float) -> Left:
    up = condition == SUCTION
    small, first = _smaller(pairs, condition), pairs[0]
    size = first[1].size
    most, speed_now = (
        (size.lift_speed, profile.lift_speed_mm_min) if up else (size.lower_speed, profile.lower_speed_mm_min)
    )
    one = len(small) < 2
    verb = ("sucks" if one else "suck") if up else ("presses" if one else "press")
    who = _listed(small) if small else first[1].row.name if first[1].row else first[0].cavity
    helps = small and all(math.isfinite(d.size.diameter) for _, d in small)
    ways = [_widths(small) if helps else "", speed(most) if most > 0.0 else "", "" if helps else "one more vent there"]
    out = ", or ".join(way for way in ways if way)
    at = f"at {speed_now:g} mm/min" if up else f"on the way down at {speed_now:g} mm/min"
    text = f"{who} {verb} {kpa(pressure)} {at}, the limit is {profile.suction_limit_kpa:g} kPa: {out}."
    return Left(text, f"vent {(small or pairs)[0][0].id}")


def _widths(pairs: Pairs) -> str:
    """What is asked of these vents: one width for all, or each its own."""
    asked = [(v.id, d.size.diameter) for v, d in pairs]
    if len({wide for _, wide in asked}) == 1:
        return f"{asked[0][1]:.1f} mm{_each(pairs)}"
    return _and([f"{wide:.1f} mm for {name}" for name, wide in asked])


def _each(pairs: Pairs) -> str:
    return " each" if len(pairs) > 1 else ""


def _up(mm: float) -> float:
    return math.ceil(10.0 * mm - 1e-9) / 10.0


def _listed(pairs: Pairs) -> str:
    return f"Vent{'s' if len(pairs) > 1 else ''} {_and([v.id for v, _ in pairs])}"


@dataclass(frozen=True)
class Advice:
    """One setting of the printer: what, how much (in words, and as a number with its unit), and why."""

    what: str
    figure: str
    why: str
    value: float
    unit: str


def advice(found: Breathing) -> tuple[Advice, ...]:
    """How to set the printer for this part with these vents."""
    profile = found.after.profile
    rows = [r for r in found.after.cups if not r.capped]
    sizes = [(s.lift_speed, s.lower_speed) for s in found.sizes.values() if s.lift_speed > 0.0 < s.lower_speed]
    lift, lower = (min((pair[k] for pair in sizes), default=math.inf) for k in (0, 1))
    speeds = (
        ("Lift speed", profile.lift_speed_mm_min, lift, [(r.peak_suction, f"{r.name} sucks") for r in rows]),
        (
            "Lowering speed",
            profile.lower_speed_mm_min,
            lower,
            [(r.steady_overpressure, f"{r.name} presses") for r in rows],
        ),
    )
    clear = "A layer must come clear of the film, which gives way with it: more for wide layers."
    if profile.lift_height_mm > profile.vat_depth_mm:
        clear += f" But the resin is only {profile.vat_depth_mm:g} mm deep: the part leaves it."
    base_mm = profile.base_layers * profile.layer_height_mm
    spread = (
        f"Base layers spread sideways: for the first {base_mm:.2f} mm on the plate make holes so much wider on each"
        " side, or let the slicing take it off."
    )
    return (
        *(_speed_advice(what, now, most, sorted(by, reverse=True), profile) for what, now, most, by in speeds),
        _usual("Lift height", profile.lift_height_mm, "mm", clear),
        _usual("Base-layer compensation", COMPENSATION_MM, "mm", spread),
        _usual("Wait before the lift", WAIT_S, "s", "The layer gains strength in the dark."),
    )


NO_SOURCE = "Common practice, no source."


def _usual(what: str, value: float, unit: str, why: str) -> Advice:
    figure = f"{value:.1f} {unit}" if unit == "mm" else f"{value:g} {unit}"
    return Advice(what, figure, f"{why} {NO_SOURCE}", value, unit)


def _speed_advice(
    what: str, now: float, solved: float, worst_first: Sequence[tuple[float, str]], profile: Profile
) -> Advice:
    """solved: mm/min at which the vents just keep the limit, with inertia; what has no vent goes in proportion."""
    if not worst_first or worst_first[0][0] <= 0.0:
        return Advice(what, f"{now:g} mm/min", "That of the profile: nothing that breathes limits it.", now, MM_MIN)
    pressure, who = worst_first[0]
    most = min(speed_for(pressure, now, profile), solved)
    why = f"{who} most: {kpa(pressure)} at {now:g} mm/min, the limit is {profile.suction_limit_kpa:g} kPa."
    if is_any(most):
        return Advice(what, f"{now:g} mm/min", why, now, MM_MIN)
    return Advice(what, f"up to {speed(most)}", why, most, MM_MIN)


MM_MIN = "mm/min"


def advice_data(found: Breathing) -> list[dict[str, object]]:
    """The advice as plain data for the report."""
    return [
        {"setting": each.what, "value": round(each.value, 6), "unit": each.unit, "figure": each.figure, "why": each.why}
        for each in advice(found)
    ]


def cautions(found: Breathing) -> tuple[str, ...]:
    """What no setting of the printer helps: sentences."""
    flow, profile = found.after, found.after.profile
    told = []
    never = {c.id for c in found.ground.findings.cavities if any(cup.cup.to_height is None for cup in c.cups)}
    closed = closed_cavities(found)
    for names, one, more in (
        ([name for name in closed if name in never], "is closed", "are closed"),
        ([name for name in closed if name not in never], "is closed until it opens", "are closed until they open"),
    ):
        if names:
            how, them = (one, "it") if len(names) == 1 else (more, "them")
            told.append(f"{_and(names)} {how}. No speed helps {them}: only a vent does.")
    late = [r.name for r in flow.cups if is_all(r.startup_suction, profile) and r.cavity not in closed]
    if late:
        verb = "is" if len(late) == 1 else "are"
        told.append(f"{_and(late)} {verb} closed until a vent is begun: a vent nearer the start would end that.")
    return tuple(told)


def _and(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]


def closed_cavities(found: Breathing) -> tuple[str, ...]:
    """Cavities that no lift speed helps: nothing but the pressure of the air ends their suction."""
    flow = found.after
    names = [r.cavity for r in flow.cups if r.cavity is not None and is_all(r.peak_suction, flow.profile)]
    return tuple(sorted(dict.fromkeys(names)))
