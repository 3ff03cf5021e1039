"""Vents that begin with a hole that is there: further in along its axis, into the hollow behind."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from bodies import box, cut, inward, rod, solid

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app.from_openings import (
    NO_BORE,
    NO_HOLLOW,
    blank,
    drilled_on,
    drilled_on_at,
    hole_before,
    is_beside,
    moved_beside,
)
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.verification import compare

NEW = blank("1", 2.0)


def block(*more: trimesh.Trimesh) -> trimesh.Trimesh:
    made = cut(box(40.0, (0.0, 0.0, 20.0)), *more)
    assert isinstance(made, trimesh.Trimesh)
    return made


def drilled(findings: Findings, found: Vent | str) -> Solid:
    """The part with it: verified, with one hole more and nothing else opened."""
    assert isinstance(found, Vent), found
    plan = Plan(vents=(found,))
    made = drill(findings.part, plan).solid
    assert compare(findings.part, made, plan) == ()
    assert topology(made).euler == topology(findings.part).euler - 2
    return made


@pytest.mark.parametrize("lean", [0.0, 0.25])
@pytest.mark.parametrize("aside", [0.0, 0.5])
def test_a_blind_hole_goes_on_along_its_axis_wherever_its_floor_is_pointed_at(lean: float, aside: float) -> None:
    out = np.array([np.cos(lean), 0.0, np.sin(lean)])
    floor = np.array([13.0, 2.0, 19.0])
    hole = rod(tuple(floor), tuple(floor + 20.0 * out), 1.4)
    findings = analyse(solid(block(hole), inward(box(18.0, (0.0, 0.0, 20.0)))))
    frame = findings.scene.frame
    pointed = frame.to_build(floor + np.array([0.0, aside, 0.0])), frame.direction_to_build(out)
    found = drilled_on_at(findings, NEW, pointed, ())
    drilled(findings, found)
    assert isinstance(found, Vent)
    assert found.axis == pytest.approx(tuple(-out), abs=0.01)
    # A polygon within the circle of 2.8 mm, and a hair.
    assert 2.4 <= found.diameter_mm <= 2.7
    line = np.asarray(found.entry_mm) - floor
    assert np.linalg.norm(line - (line @ out) * out) < 0.05
    assert found.exit_mm[0] == pytest.approx(9.0, abs=0.01)


def two_chambers() -> Findings:
    """One with an opening, and one behind it, across 4 mm of wall."""
    hole = rod((12.0, 2.0, 19.0), (30.0, 2.0, 19.0), 1.2)
    near = box((8.0, 20.0, 20.0), (12.0, 0.0, 20.0))
    return analyse(solid(block(near, hole), inward(box((16.0, 20.0, 20.0), (-4.0, 0.0, 20.0)))))


def test_an_opening_goes_on_into_the_next_chamber_and_that_reaches_the_outside_by_it() -> None:
    findings = two_chambers()
    (opening,) = [o for c in findings.cavities for o in c.openings]
    found = drilled_on(findings, NEW, opening, ())
    made = drilled(findings, found)
    assert isinstance(found, Vent)
    assert found.entry_mm == pytest.approx((8.0, 2.0, 19.0), abs=0.05)
    assert found.exit_mm == pytest.approx((4.0, 2.0, 19.0), abs=0.05)
    assert [c.kind for c in findings.cavities].count("sealed") == 1
    assert all(c.kind != "sealed" for c in analyse(made).cavities)


def test_where_no_hollow_is_behind_or_no_hole_is_there_that_is_said() -> None:
    hole = rod((12.0, 2.0, 19.0), (30.0, 2.0, 19.0), 1.2)
    blind = rod((15.0, -14.0, 8.0), (30.0, -14.0, 8.0), 1.2)
    findings = analyse(solid(block(box((8.0, 20.0, 20.0), (12.0, 0.0, 20.0)), hole, blind)))
    (opening,) = [o for c in findings.cavities for o in c.openings]
    assert drilled_on(findings, NEW, opening, ()) == NO_HOLLOW
    frame, out = findings.scene.frame, np.array([1.0, 0.0, 0.0])
    assert drilled_on_at(findings, NEW, (frame.to_build(np.array([15.0, -14.0, 8.0])), out), ()) == NO_HOLLOW
    assert drilled_on_at(findings, NEW, (frame.to_build(np.array([20.0, 10.0, 30.0])), out), ()) == NO_BORE


def boxed_with_a_hole() -> Findings:
    """A hollow box 26 mm cubed with 3 mm of wall and one hole of 2.4 mm in its side."""
    hole = rod((5.0, 2.0, 9.0), (20.0, 2.0, 9.0), 1.2)
    return analyse(solid(cut(box(26.0, (0.0, 0.0, 13.0)), box(20.0, (0.0, 0.0, 13.0)), hole)))


@pytest.mark.parametrize("off", [(1.0, 0.0), (0.0, -2.0), (0.3, 0.2)])
def test_an_opening_is_moved_by_less_than_its_width_in_one_go(off: tuple[float, float]) -> None:
    findings = boxed_with_a_hole()
    (opening,) = [o for c in findings.cavities for o in c.openings]
    frame, out = findings.scene.frame, np.array([1.0, 0.0, 0.0])
    # Where the pointer meets the part: on the skin, or within the hole on its side.
    within = np.hypot(*off) < 1.2
    goal = np.array([11.0 if within else 13.0, 2.0 + off[0], 9.0 + off[1]])
    at = frame.to_build(goal), frame.direction_to_build(np.array([0.0, -1.0, 0.0]) if within else out)
    assert is_beside(opening, at[0])
    found = moved_beside(findings, opening, Plan(), "1", at)
    assert not isinstance(found, str), found
    closed, vent = found
    assert vent.entry_mm == pytest.approx((13.0, *goal[1:]), abs=0.01)
    assert vent.diameter_mm == pytest.approx(2.4)
    plan = Plan(vents=(vent,))
    made = drill(closed.solid, plan).solid
    assert compare(closed.solid, made, plan) == ()
    # One hole before, and one after: the same shape, and but for its polygon the same volume.
    assert topology(made).euler == topology(findings.part).euler
    assert made.volume == pytest.approx(findings.part.volume, abs=0.3)


def test_one_that_goes_to_where_none_fits_stays_with_a_plain_reason() -> None:
    findings = boxed_with_a_hole()
    (opening,) = [o for c in findings.cavities for o in c.openings]
    frame, out = findings.scene.frame, np.array([1.0, 0.0, 0.0])
    far = frame.to_build(np.array([13.0, -9.0, 9.0]))
    assert not is_beside(opening, far)
    corners = findings.part.vertices[findings.part.faces]
    side = FaceMask.of((corners[:, :, 0] > 12.99).all(axis=1))
    at = frame.to_build(np.array([13.0, 3.0, 9.0])), frame.direction_to_build(out)
    told = moved_beside(findings, opening, Plan(), "1", at, side)
    assert isinstance(told, str)
    assert told.startswith("no vent fits there: it would cut a surface that is to be kept clear")


def test_what_is_seen_in_or_through_a_hole_is_not_taken_for_the_skin() -> None:
    findings = two_chambers()
    frame, eye = findings.scene.frame, findings.scene.frame.direction_to_build(np.array([1.0, 0.0, 0.0]))

    def before(*place: float, plan: Plan | None = None) -> float | None:
        return hole_before(findings, plan or Plan(), frame.to_build(np.array(place)), eye)

    assert before(4.0, 2.0, 19.0) == pytest.approx(2.4, abs=0.1)  # the wall behind
    assert before(18.0, 2.0, 20.1) == pytest.approx(2.4, abs=0.1)  # its own side
    assert before(20.0, 2.0, 22.0) is None  # the skin beside it
    assert before(-20.0, 12.0, 19.0) is None
    vent = Vent("1", "A", "", "vent", (20.0, 12.0, 19.0), (12.0, 12.0, 19.0), (-1.0, 0.0, 0.0), 2.0, 8.0, 0.0, 0.0)
    assert before(-20.0, 12.0, 19.5, plan=Plan(vents=(vent,))) == 2.0
