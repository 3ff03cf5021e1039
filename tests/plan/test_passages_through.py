"""A cup that only a drill through another hollow reaches, and passages as wide as the limits ask."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import vent_oracle as oracle
from bodies import block, box, inward, solid, union
from hollow_parts import keel

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app.joining import offered_passages
from ventplanner.app.keeping_clear import left_kept_clear
from ventplanner.app.minding_supports import left_by_supports
from ventplanner.app.state import AppState
from ventplanner.flow.ground import Ground, ground
from ventplanner.flow.suction import breathe
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.outline import Outline
from ventplanner.geometry.support_file import Supports
from ventplanner.geometry.topology import topology
from ventplanner.io.report import venting
from ventplanner.options import VentRules
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Passage, Plan, Vent
from ventplanner.plan.passage_width import resized
from ventplanner.plan.placement import propose
from ventplanner.plan.reached import unreached
from ventplanner.plan.refusal import place_of_refusal
from ventplanner.plan.second_look import look_again
from ventplanner.plan.sizing import sized_plan
from ventplanner.plan.venting import holes_of, names_of_drills, tools_of
from ventplanner.plan.verification import compare
from ventplanner.profile import Profile

AUTO = VentRules(passages="auto", longest_wall_mm=8.0)
NEED = replace(AUTO, size="need", least_mm=1.0)


@cache
def found_bilge() -> Findings:
    """A hull 64 mm cubed. A tank (A) starts 12 mm above its lower side, 12 mm or more from every side; from 27.5 mm
    on an arm of it comes within 3 mm of a side. A keel (B) starts at 28 mm behind 5 mm of material from the tank."""
    tank = union(block((-12, -12, -20), (12, -2, 12)), block((-12, -29, -4.5), (12, -6, 8)))
    return analyse(solid(box(64.0), inward(tank), inward(box((8.0, 8.0, 10.0), (0.0, 7.0, 1.0)))))


@cache
def joined_bilge() -> Plan:
    return propose(found_bilge(), AUTO)


def only(plan: Plan) -> tuple[Passage, Vent]:
    (passage,) = plan.passages
    assert passage.outer is not None
    return passage, passage.outer


def test_a_cup_behind_a_hollow_that_does_not_breathe_is_drilled_through_it_from_the_outside() -> None:
    findings, plan = found_bilge(), joined_bilge()
    passage, outer = only(plan)
    assert (passage.cup, passage.to) == ("B1", "A")
    assert plan.vents == ()
    # One straight line: into the arm through 3 mm, and on through 5 mm.
    met = oracle.stretches(findings.part, outer.start_mm, passage.legs[-1].end_mm)
    assert [b - a for a, b in met] == pytest.approx([outer.wall_mm, passage.length_mm], abs=1e-6)
    assert (outer.wall_mm, passage.length_mm) == pytest.approx((3.0, 5.0), abs=0.1)
    assert outer.entry_mm[1] == pytest.approx(-32.0)
    assert outer.diameter_mm == passage.diameter_mm
    assert "extra hole that is seen" in passage.reason
    assert f"{outer.entry_mm[0]:.1f}" in passage.reason


def test_its_way_out_in_a_surface_marked_later_is_left_to_do() -> None:
    findings, plan = found_bilge(), joined_bilge()
    corners = findings.solid.vertices[findings.solid.faces]
    side = FaceMask.of(np.abs(corners[:, :, 1] + 32.0).max(axis=1) < 1e-9)
    (left,) = left_kept_clear(findings, side, plan)
    assert (left.target, left.text[:42]) == ("passage P1", "Passage P1 cuts the surface to be kept cle")
    opposite = FaceMask.of(np.abs(corners[:, :, 1] - 32.0).max(axis=1) < 1e-9)
    assert left_kept_clear(findings, opposite, plan) == ()
    inside = FaceMask.of(np.abs(corners).max(axis=(1, 2)) < 10.0)  # the keel's own skin, which its leg enters
    assert [one.target for one in left_kept_clear(findings, inside, plan)] == ["passage P1"]


def test_it_breathes_then_and_what_lies_between_is_still_reproached_for_being_late() -> None:
    findings, plan = found_bilge(), joined_bilge()
    cups = findings.scene.cups(tools_of(findings, plan))
    starts = [findings.cavity(name).cups[0].cup.start + np.array([0.0, 0.0, 1e-4]) for name in "AB"]
    tank, cup = (int(cups.cup_at(start[None])[0]) for start in starts)
    assert cups.cups[tank].state(findings.options) == "late"
    assert cup < 0 or cups.cups[cup].state(findings.options) == "breathing"
    assert [m.cup for m in plan.missing] == ["A1"]
    assert unreached(findings, plan) == ()


def test_two_holes_are_cut_and_nothing_else_opens() -> None:
    findings, plan = found_bilge(), joined_bilge()
    drilled = drill(findings.part, plan)
    assert compare(findings.part, drilled.solid, plan) == ()
    assert look_again(findings, plan, drilled.solid).differences == ()
    after = topology(drilled.solid)
    assert (after.n_skins, after.euler) == (1, topology(findings.part).euler - 2 * 2)
    assert names_of_drills(plan) == ("P1-out", "P1")
    assert [hole.name for hole in holes_of(plan, findings.scene.frame)] == ["P1", "P1-out"]


def test_where_passages_are_off_it_is_offered_with_its_way_out_and_told() -> None:
    findings = found_bilge()
    plan = propose(findings, replace(AUTO, passages="off"))
    told = next(m for m in plan.missing if m.cup == "B1")
    assert told.join == only(joined_bilge())[0]
    taken = Passage("P1", "", "", "", ((0, 0, 0), (1, 0, 0)), 1.0, 1.0, 0.1, 0.1)
    state = AppState(findings.solid, findings.pose, plan=Plan(passages=(taken,)))
    (offered,) = offered_passages(state, plan)
    assert offered.id == "P2"
    assert offered.outer is not None
    assert offered.outer.id == "P2-out"
    report = venting(findings, joined_bilge(), findings, left=(), verified=False)
    assert report["passages"][0]["outer_mm"][1] == pytest.approx(-32.0)


def peaks(base: Ground, profile: Profile, plan: Plan) -> dict[str, float]:
    flow = breathe(base, profile, holes_of(plan, base.findings.scene.frame))
    return {row.cavity: max(row.peak_suction, row.steady_overpressure) for row in flow.cups if row.cavity}


@pytest.mark.parametrize(("lift", "viscosity"), [(60.0, 200.0), (300.0, 2000.0)])
def test_a_passage_sized_by_need_is_the_narrowest_that_keeps_the_limits(lift: float, viscosity: float) -> None:
    findings = analyse(keel())
    base, profile = ground(findings), Profile(lift_speed_mm_min=lift, viscosity_mpas=viscosity, vat_depth_mm=500.0)
    proposed = propose(findings, NEED)
    plan = sized_plan(base, profile, proposed, NEED)
    (passage,), (before,) = plan.passages, proposed.passages
    assert max(peaks(base, profile, plan).values()) <= 5000.0 * 1.002
    assert f"{passage.diameter_mm:g} mm" in passage.reason
    assert passage.clearance_mm >= NEED.passage_wall_mm
    less = plan.with_passage(replace(passage, diameter_mm=passage.diameter_mm - 0.1))
    assert passage.diameter_mm == NEED.least_mm or peaks(base, profile, less)["B"] > 5000.0 * 0.999
    # Its lowest line stays where it was: the cup opens no later.
    lowest = [p.points_mm[0][2] - p.radius_mm / math.cos(slope_of(p)) for p in (before, passage)]
    assert lowest[1] == pytest.approx(lowest[0], abs=0.02)
    assert compare(findings.part, drill(findings.part, plan).solid, plan) == ()


def slope_of(passage: Passage) -> float:
    rise = passage.points_mm[-1][2] - passage.points_mm[0][2]
    return math.asin(rise / passage.length_mm)


def test_a_way_through_another_hollow_gets_its_width_as_one_drill() -> None:
    findings = found_bilge()
    profile = Profile(lift_speed_mm_min=300.0, viscosity_mpas=2000.0)
    passage, outer = only(sized_plan(ground(findings), profile, joined_bilge(), NEED))
    assert passage.diameter_mm == outer.diameter_mm != AUTO.diameter_mm
    axis, start = np.array(outer.axis), np.array(passage.points_mm[0])
    assert np.linalg.norm(np.cross(np.array(outer.entry_mm) - start, axis)) < 1e-6
    fixed = sized_plan(ground(findings), profile, joined_bilge(), AUTO)
    assert fixed.passages == joined_bilge().passages


def test_a_support_in_the_way_of_a_passage_or_before_its_way_out_is_left_to_do() -> None:
    findings, plan = found_bilge(), joined_bilge()
    (passage,) = plan.passages
    assert passage.outer is not None
    at, out = np.array(passage.outer.entry_mm), -np.array(passage.outer.axis)
    middle = np.array(passage.points_mm).mean(axis=0)
    for where, why in ((at + 4.0 * out, "a support stands in the way of the drill"), (middle, "it would touch")):
        strut = solid(box((1.0, 1.0, 1.0), tuple(where)))
        minding = findings.with_supports(Supports("strut.stl", strut.digest, strut))
        told = [x for x in left_by_supports(minding, plan) if x.target == "passage P1"]
        assert [x.text.startswith(f"Passage P1: {why}") for x in told] == [True]
    away = solid(box((1.0, 1.0, 1.0), tuple(at + 20.0 * out)))
    assert left_by_supports(findings.with_supports(Supports("s.stl", away.digest, away)), plan) == ()


def test_a_passage_keeps_off_the_whole_length_of_a_slot() -> None:
    findings, plan = found_bilge(), joined_bilge()
    (passage,) = plan.passages
    at, axis = np.array(passage.points_mm[0]), np.array(passage.legs[0].axis)
    across = np.cross(axis, (0.0, 0.0, 1.0))
    across /= np.linalg.norm(across)
    beside = at + 4.0 * across
    x, y, z = across.tolist()
    ends = [tuple(beside - k * axis) for k in (3.0, 0.0)]
    slot = Vent("9", "A", "", "vent", ends[0], ends[1], tuple(axis), 1.0, 3.0, 0.3, 0.3)
    round_one = resized(findings, Plan(vents=(slot,), passages=(passage,)), passage, passage.diameter_mm, AUTO)
    assert isinstance(round_one, Passage)
    long = replace(slot, outline=Outline("slot", 6.0, (x, y, z)))
    told = resized(findings, Plan(vents=(long,), passages=(passage,)), passage, passage.diameter_mm, AUTO)
    assert told == "it would come too near another hole"
    assert place_of_refusal(told) is not None
