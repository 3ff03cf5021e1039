"""Suction in words: figures of a cup, remarks about vents that are too small, and advice for the printer."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
import sample_parts

from ventplanner.app import suction
from ventplanner.app.breathing import Breathing, breathing, demand
from ventplanner.flow.ground import Ground, ground
from ventplanner.flow.model import RoomFlow
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile

STRICT = replace(Profile(), suction_limit_kpa=0.5)


@cache
def _part(name: str) -> tuple[Ground, Plan]:
    return ground(sample_parts.findings(name)), sample_parts.proposed(name)


def _found(name: str, profile: Profile, *, vented: bool = True) -> tuple[Breathing, Plan]:
    base, plan = _part(name)
    plan = plan if vented else replace(plan, vents=())
    return breathing(base, profile, plan), plan


def _row(**values: float) -> RoomFlow:
    usual = RoomFlow(
        1, "A", "A1", 2.0, 1000.0, 0.0, 2500.0, 2500.0, 0.5, 4.0, False, (700.0, 1300.0), 0.0, 1.0, float("inf")
    )  # fmt: skip
    return replace(usual, **values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("pa", "text"),
    [(0.0, "0 kPa"), (4.0, "0 kPa"), (74.0, "0.07 kPa"), (994.0, "0.99 kPa"), (1823.0, "1.8 kPa"), (9949.0, "9.9 kPa"),
     (12_400.0, "12 kPa"), (101_325.0, "101 kPa"), (5e9, "over 1000 kPa")],
)  # fmt: skip
def test_a_pressure_has_two_digits_that_count(pa: float, text: str) -> None:
    assert suction.kpa(pa) == text


@pytest.mark.parametrize(("mm_min", "text"), [(294.9, "290 mm/min"), (25.9, "25 mm/min"), (3.79, "3.7 mm/min")])
def test_a_speed_that_must_not_be_passed_is_rounded_down(mm_min: float, text: str) -> None:
    assert suction.speed(mm_min) == text


def test_a_cavity_shows_the_worst_of_its_rooms() -> None:
    rows = (_row(), _row(peak_suction=3000.0, startup_suction=200.0, height=9.0, peak_force=0.1))
    pulled = suction.pull(rows, Profile())
    assert pulled is not None
    assert (pulled.suction, pulled.startup, pulled.height, pulled.force) == (3000.0, 200.0, 9.0, 0.5)
    assert not pulled.over
    assert suction.pull((), Profile()) is None
    for value in ({"startup_suction": 5001.0}, {"peak_overpressure": 5001.0}, {"peak_suction": 5001.0}):
        assert suction.pull((_row(**value),), Profile()).over  # type: ignore[union-attr]


def test_without_vents_every_cavity_is_closed_and_no_speed_helps() -> None:
    found, _ = _found("lighthouse", Profile(), vented=False)
    pulled = suction.pull(suction.rows_of(found.after, "cavity", "A"), Profile())
    assert pulled is not None
    assert pulled.closed
    assert suction.closed_cavities(found) == ("A", "B", "C", "D")
    assert suction.cautions(found)[0].startswith("A, B, C and D are closed.")


def test_a_vent_that_keeps_the_limits_is_not_remarked_on() -> None:
    assert suction.remarks(*_found("whelk", Profile())) == ()


def test_who_sucks_only_until_the_first_hole_is_whole_is_told_last() -> None:
    found, plan = _found("whelk", Profile())
    (row,) = found.after.cups
    assert row.startup_suction > 5000.0 > row.peak_suction
    assert suction.at_first(found, plan) == "until its first hole is whole, A1 sucks beyond the limit of 5 kPa"
    assert suction.at_first(found, replace(plan, left_alone=(("A", ""),))) == ""
    assert suction.at_first(*_found("whelk", replace(Profile(), suction_limit_kpa=0.2))) == ""  # graver is said


def test_a_vent_that_bears_it_alone_is_asked_to_be_wider() -> None:
    found, plan = _found("puffin", STRICT)
    (told,) = suction.remarks(found, plan)
    asked = demand(found, plan, plan.vents[0])
    assert asked is not None
    assert asked.need("suction").diameter > plan.vents[0].diameter_mm
    assert told.target == f"vent {plan.vents[0].id}"
    wide, slower = asked.size.diameter, suction.speed(asked.size.lift_speed)
    assert told.text == f"Vent 1 sucks 1.8 kPa at 60 mm/min, the limit is 0.5 kPa: {wide:.1f} mm, or {slower}."
    wider = replace(plan, vents=(replace(plan.vents[0], diameter_mm=wide), *plan.vents[1:]))
    assert suction.remarks(breathing(found.ground, STRICT, wider), wider) == ()


def test_both_ways_out_of_a_remark_lead_out() -> None:
    found, plan = _found("whelk", replace(Profile(), suction_limit_kpa=0.2))
    (told,) = suction.remarks(found, plan)
    size = float(told.text.partition("kPa: ")[2].partition(" mm,")[0])
    wider = replace(plan, vents=tuple(replace(v, diameter_mm=size) for v in plan.vents))
    assert suction.remarks(breathing(found.ground, found.after.profile, wider), wider) == ()
    slow = float(told.text.rpartition("or ")[2].split()[0])
    slower = replace(found.after.profile, lift_speed_mm_min=slow, lower_speed_mm_min=slow)
    assert suction.remarks(breathing(found.ground, slower, plan), plan) == ()


def test_a_cavity_left_as_it_is_is_not_remarked_on() -> None:
    found, plan = _found("whelk", replace(Profile(), suction_limit_kpa=0.2))
    assert suction.remarks(found, replace(plan, left_alone=(("A", ""),))) == ()


def test_a_vent_thinner_than_what_prints_is_remarked_on() -> None:
    _, plan = _found("whelk", Profile())
    thin = replace(plan, vents=tuple(replace(v, diameter_mm=0.3) for v in plan.vents))
    patient = replace(Profile(), lift_speed_mm_min=0.1, lower_speed_mm_min=0.1, suction_limit_kpa=100.0)
    (told,) = suction.remarks(breathing(_part("whelk")[0], patient, thin), thin)
    assert told.text == "Vent 1 may print closed: 0.5 mm."


def test_advice_names_the_worst_cup_and_its_speed() -> None:
    found, _ = _found("puffin", Profile())
    told = {each.what: each for each in suction.advice(found)}
    worst = max(found.after.cups, key=lambda r: r.peak_suction)
    assert told["Lift speed"].why.startswith(f"{worst.name} sucks most")
    most = float(told["Lift speed"].figure.split()[2])
    row = breathing(found.ground, replace(Profile(), lift_speed_mm_min=most), _part("puffin")[1]).after.of(worst.name)
    assert row is not None
    assert row.peak_suction == pytest.approx(5000.0, rel=0.02)  # with inertia, which grows faster than the speed
    assert told["Base-layer compensation"].figure == "0.2 mm"
    for what in ("Lift height", "Base-layer compensation", "Wait before the lift"):
        assert "no source" in told[what].why
    deep = suction.advice(replace(found, after=replace(found.after, profile=Profile(lift_height_mm=30.0))))
    assert "leaves it" in {each.what: each for each in deep}["Lift height"].why


def test_what_opens_late_is_not_called_closed_for_good() -> None:
    found, _ = _found("fisherman", Profile(), vented=False)
    assert "A is closed until it opens. No speed helps it: only a vent does." in suction.cautions(found)


def test_flags_tell_where_the_estimate_ends() -> None:
    found, _ = _found("whelk", Profile())
    wall = found.ground.thinnest
    assert suction.flags([_row()], found) == ()
    (fast,) = suction.flags([_row(reynolds=34.0)], found)
    assert "Reynolds number 34" in fast
    (bent,) = suction.flags([_row(bulge=0.2 * wall)], found)
    assert "20 % of it" in bent
    (far,) = suction.flags([_row(bulge=0.6 * wall)], found)
    assert "more than half its thickness" in far
    (late,) = suction.flags([_row(startup_suction=101_325.0)], found)
    assert "closed until a vent is begun" in late
    aloft = _row(starts=10.0, draws_air_from=12.0, draws_air_to=30.0, air_mm3=3400.0)
    (drawn,) = suction.flags([aloft], found)
    assert drawn == (
        "From 12.0 to 30.0 mm the vents of A1 lie above the resin and draw in air: at last 3.4 mL of it are empty of"
        " resin."
    )


def test_vents_above_the_resin_are_told_only_where_the_hollow_still_grows() -> None:
    found, _ = _found("lighthouse", Profile())
    row = found.after.of("A1")
    assert row is not None
    assert row.draws_air_from > 62.5  # cavity A ends there
    assert suction.flags([row], found) == ()
    found, _ = _found("puffin", Profile())
    row = found.after.of("A1")
    assert row is not None
    assert suction.flags([row], found)[-1].startswith(f"From {row.draws_air_from:.1f} to {row.draws_air_to:.1f} mm the")


def test_hollows_that_are_no_cavity_are_listed() -> None:
    found, _ = _found("lighthouse", Profile())
    assert [round(row.starts, 1) for row in suction.hollows(found.after)] == [74.5]
