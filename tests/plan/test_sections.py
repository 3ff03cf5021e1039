"""Slots, squares and countersinks: what they take out, that nothing else opens, and what they are refused for."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trimesh
from bodies import ball, box, cut, inward, rod, solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app.dragging import moved, reshaped, resized, turn_deg, turned
from ventplanner.errors import ParameterError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.outline import ROUND, Outline
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.plan.drilling import drill
from ventplanner.plan.fitting import KEPT_CLEAR
from ventplanner.plan.model import Countersink, Plan, Vent
from ventplanner.plan.second_look import look_again
from ventplanner.plan.section_rules import check_section
from ventplanner.plan.sections import TOO_THIN
from ventplanner.plan.verification import compare

WALL = 3.0
BLANK = Vent("1", "", "", "vent", (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 2.0, 0.0, 0.0, 0.0)
SLOT, SQUARE = Outline("slot", 6.0), Outline("square")


@cache
def hollow_box() -> Findings:
    return analyse(solid(box(26.0, (0.0, 0.0, 13.0)), inward(box(26.0 - 2 * WALL, (0.0, 0.0, 13.0)))))


@cache
def hollow_ball() -> Findings:
    return analyse(solid(ball(14.0, (0.0, 0.0, 14.0), fine=4), inward(ball(11.0, (0.0, 0.0, 14.0), fine=4))))


def side(findings: Findings, y: float = 2.0, z: float = 9.0, others: tuple[Vent, ...] = ()) -> Vent:
    """A round vent through the wall of the box at x = 13."""
    frame = findings.scene.frame
    made = moved(findings, BLANK, frame.to_build(np.array([13.0, y, z])), np.array([1.0, 0.0, 0.0]), False, others)
    assert isinstance(made, Vent), made
    return made


def fitted(vent: Vent | str) -> Vent:
    assert isinstance(vent, Vent), vent
    return vent


def taken_from(part: Solid, *vents: Vent) -> tuple[float, int]:
    """Volume and Euler number by trimesh that drilling takes; the drilled part is verified."""
    plan = Plan(vents=vents)
    result = drill(part, plan)
    assert compare(part, result.solid, plan) == ()
    before, after = (trimesh.Trimesh(p.vertices, p.faces, process=False) for p in (part, result.solid))
    assert after.is_watertight
    return before.volume - after.volume, after.euler_number - before.euler_number


def frustum(low: float, high: float, depth: float) -> float:
    return math.pi * depth / 3.0 * (low**2 + high**2 + low * high)


@pytest.mark.parametrize(("shape", "area"), [(SLOT, math.pi + 8.0), (SQUARE, 4.0)])
@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0])
def test_a_straight_section_takes_its_area_times_the_wall(shape: Outline, area: float, turn: float) -> None:
    findings = hollow_box()
    vent = fitted(reshaped(findings, side(findings), shape, turn, None))
    assert turn_deg(findings, vent) == pytest.approx(turn % (90.0 if shape == SQUARE else 180.0), abs=1e-6)
    volume, euler = taken_from(findings.part, vent)
    assert volume == pytest.approx(area * WALL, rel=1e-9)
    assert euler == -2  # one clean hole through one wall


def test_a_countersink_takes_a_frustum_more() -> None:
    findings = hollow_box()
    vent = fitted(reshaped(findings, side(findings), ROUND, 0.0, Countersink(4.0, 1.5)))
    assert vent.countersink is not None
    assert vent.countersink.angle_deg(1.0) == pytest.approx(2 * math.degrees(math.atan(1 / 1.5)))
    volume, euler = taken_from(findings.part, vent)
    assert volume == pytest.approx(frustum(1.0, 2.0, 1.5) + math.pi * 1.5, rel=1e-4)
    assert euler == -2


def test_a_slot_is_countersunk_on_every_side() -> None:
    findings = hollow_box()
    vent = fitted(reshaped(findings, side(findings), SLOT, 20.0, Countersink(3.0, 1.0)))
    volume, euler = taken_from(findings.part, vent)
    # The slot grows by 0.5 mm all round: round ends by a frustum, straight sides of 4 mm by a trapezium.
    flared = frustum(1.0, 1.5, 1.0) + 4.0 * (2.0 + 3.0) / 2.0
    assert volume == pytest.approx(flared + 2.0 * (math.pi + 8.0), rel=1e-3)
    assert euler == -2


def test_sections_through_a_curved_wall_are_verified_and_breathe() -> None:
    findings = hollow_ball()
    way = np.array([0.5, 0.7, -0.6]) / np.linalg.norm([0.5, 0.7, -0.6])
    at = findings.scene.frame.to_build(np.array([0.0, 0.0, 14.0]) + 14.0 * way)
    one = fitted(moved(findings, BLANK, at, way, False))
    vent = fitted(reshaped(findings, one, SLOT, 40.0, Countersink(3.6, 0.9)))
    plan = Plan(vents=(vent,))
    result = drill(findings.part, plan)
    assert compare(findings.part, result.solid, plan) == ()
    assert look_again(findings, plan, result.solid).differences == ()


def test_moving_and_turning_keep_how_a_slot_lies() -> None:
    findings = hollow_box()
    vent = fitted(reshaped(findings, side(findings), SLOT, 35.0, Countersink(3.0, 1.0)))
    frame = findings.scene.frame
    there = moved(findings, vent, frame.to_build(np.array([1.0, -13.0, 12.0])), np.array([0.0, -1.0, 0.0]), False)
    for other in (fitted(there), fitted(turned(findings, vent, np.array([-1.0, 0.2, 0.1])))):
        assert (other.outline.shape, other.outline.length_mm, other.countersink) == ("slot", 6.0, Countersink(3.0, 1.0))
        assert turn_deg(findings, other) == pytest.approx(35.0, abs=1e-6)
    wide = fitted(resized(findings, vent, 2.5))
    assert (wide.diameter_mm, wide.outline) == (2.5, vent.outline)


def test_what_does_not_fit_is_refused_with_its_reason() -> None:
    findings = hollow_box()
    vent = side(findings, y=7.5)
    assert "does not reach" in str(reshaped(findings, vent, Outline("slot", 12.0), 0.0, None))
    assert isinstance(reshaped(findings, vent, Outline("slot", 12.0), 90.0, None), Vent)
    assert TOO_THIN in str(reshaped(findings, vent, ROUND, 0.0, Countersink(4.0, 2.6)))
    other = replace(side(findings, y=3.0), id="2")
    assert "too near vent 2" in str(reshaped(findings, vent, ROUND, 0.0, Countersink(6.0, 1.0), (other,)))
    assert "too near vent 2" in str(reshaped(findings, vent, Outline("slot", 6.0), 0.0, None, (other,)))
    assert "cannot be" in str(reshaped(findings, vent, Outline("slot", 2.0), 0.0, None))
    assert "not wider" in str(resized(findings, replace(vent, countersink=Countersink(2.5, 1.0)), 2.4))
    with pytest.raises(ParameterError, match="deep"):
        check_section(2.0, ROUND, Countersink(3.0, math.nan))


def test_a_countersink_does_not_cut_what_is_kept_clear_though_its_hole_does_not() -> None:
    part = hollow_box().part
    middles = part.vertices[part.faces].mean(axis=1)
    # The faces of the top: the hole stays 0.6 mm away from it, the countersink would not.
    mask = FaceMask.of(np.abs(middles[:, 2] - 26.0) < 1e-9)
    findings = hollow_box().keeping_clear(mask)
    vent = side(findings, z=20.5)
    assert isinstance(reshaped(findings, vent, ROUND, 0.0, Countersink(4.0, 1.0)), Vent)
    told = reshaped(findings, vent, ROUND, 0.0, Countersink(11.0, 1.0))
    assert KEPT_CLEAR in str(told)
    assert "mm" in str(told)
    assert KEPT_CLEAR in str(reshaped(findings, vent, Outline("slot", 11.0), 90.0, None))


def test_a_countersink_keeps_its_distance_from_another_hollow() -> None:
    pocket = inward(box((1.0, 1.0, 1.0), (12.0, 4.6, 9.0)))
    findings = analyse(solid(box(26.0, (0.0, 0.0, 13.0)), inward(box(20.0, (0.0, 0.0, 13.0))), pocket))
    vent = side(findings)
    assert isinstance(reshaped(findings, vent, ROUND, 0.0, Countersink(3.0, 1.0)), Vent)
    assert isinstance(reshaped(findings, vent, ROUND, 0.0, Countersink(5.0, 1.5)), str)


def test_a_slot_in_a_wall_with_a_groove_does_not_break_out_of_it() -> None:
    grooved = cut(box(26.0, (0.0, 0.0, 13.0)), rod((13.0, 6.0, -1.0), (13.0, 6.0, 27.0), 1.5))
    findings = analyse(solid(grooved, inward(box(20.0, (0.0, 0.0, 13.0)))))
    vent = fitted(reshaped(findings, side(findings, y=3.0), SLOT, 0.0, None))
    plan = Plan(vents=(vent,))
    assert compare(findings.part, drill(findings.part, plan).solid, plan) == ()


@settings(max_examples=12, deadline=None)
@given(
    st.sampled_from([ROUND, SLOT, SQUARE]),
    st.floats(0.8, 3.0),
    st.floats(0.0, 179.0),
    st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1)).filter(lambda d: np.linalg.norm(d) > 0.2),
    st.one_of(st.none(), st.tuples(st.floats(0.3, 3.0), st.floats(0.2, 2.4))),
)
def test_whatever_fits_opens_one_hole_and_leaves_the_wall(
    outline: Outline, width: float, turn: float, way: tuple[float, float, float], flare: tuple[float, float] | None
) -> None:
    findings = hollow_ball()
    outwards = np.array(way) / np.linalg.norm(way)
    at = findings.scene.frame.to_build(np.array([0.0, 0.0, 14.0]) + 13.95 * outwards)
    one = moved(findings, replace(BLANK, diameter_mm=width), at, outwards, False)
    sink = None if flare is None else Countersink(width + flare[0], flare[1])
    vent = one if isinstance(one, str) else reshaped(findings, one, outline, turn, sink)
    if isinstance(vent, str):
        return
    part = findings.part
    plan = Plan(vents=(vent,))
    result = drill(part, plan).solid
    assert compare(part, result, plan) == ()
    assert topology(result).euler - topology(part).euler == -2
    if sink is not None:
        # What is new and lies further from the axis than the hole is the countersink: it stays off the inner ball.
        new = result.vertices[~np.isin(result.vertices, part.vertices).all(axis=1)]
        off = new - np.array(vent.entry_mm)
        axis = np.array(vent.axis)
        across = np.linalg.norm(off - np.outer(off @ axis, axis), axis=1)
        wide = across > outline.far(0.5 * width) + 0.25 * flare[0]
        inner = np.linalg.norm(new[wide] - [0.0, 0.0, 14.0], axis=1) - 11.0
        assert (inner > 0.4).all()
