"""A vent that is dragged over the skin is fitted to the wall there, or it is said why not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bodies import box, cut, rod, solid
from hollow_parts import fine, found, proposed
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import analyse
from ventplanner.app.dragging import moved, resized, turned
from ventplanner.plan.model import Vent
from ventplanner.plan.refusal import place_of_refusal

VENT = proposed().vents[0]
FINDINGS = found()


def to_build(x: float, y: float, z: float) -> np.ndarray:
    return FINDINGS.scene.frame.to_build(np.array([x, y, z]))


def dragged(at: tuple[float, float, float], normal: tuple[float, float, float], **more: object) -> Vent | str:
    outwards = FINDINGS.scene.frame.direction_to_build(np.array(normal, dtype=float))
    return moved(FINDINGS, VENT, to_build(*at), outwards, False, **more)  # type: ignore[arg-type]


def test_it_goes_square_through_the_wall_at_that_place() -> None:
    vent = dragged((-9.0, -10.0, -2.0), (0.0, -1.0, 0.0))
    assert isinstance(vent, Vent)
    assert vent.entry_mm == pytest.approx((-9.0, -10.0, -2.0), abs=1e-5)
    assert vent.exit_mm == pytest.approx((-9.0, -6.0, -2.0), abs=1e-5)
    assert vent.axis == pytest.approx((0.0, 1.0, 0.0), abs=1e-9)
    assert vent.wall_mm == pytest.approx(4.0, abs=1e-5)
    assert (vent.id, vent.cavity, vent.cup, vent.kind) == (VENT.id, "A", "A1", "vent")
    assert "4.0 mm" in vent.reason


def test_over_another_cavity_it_leads_into_that_one() -> None:
    vent = dragged((9.0, -10.0, 1.0), (0.0, -1.0, 0.0))
    assert isinstance(vent, Vent)
    assert (vent.cavity, vent.cup) == ("B", "B1")


def test_picked_from_inside_the_drill_still_comes_from_outside() -> None:
    vent = dragged((-9.0, -6.0, -2.0), (0.0, 1.0, 0.0))
    assert isinstance(vent, Vent)
    assert vent.entry_mm == pytest.approx((-9.0, -10.0, -2.0), abs=1e-5)
    assert vent.axis == pytest.approx((0.0, 1.0, 0.0), abs=1e-9)


def test_a_held_axis_stays_as_it_is() -> None:
    slanted = replace(VENT, axis=(0.0, float(np.cos(0.3)), float(np.sin(0.3))))
    out = FINDINGS.scene.frame.direction_to_build(np.array([0.0, -1.0, 0.0]))
    vent = moved(FINDINGS, slanted, to_build(-9.0, -10.0, -3.0), out, True)
    assert isinstance(vent, Vent)
    assert vent.axis == pytest.approx(slanted.axis)
    assert vent.wall_mm == pytest.approx(4.0 / np.cos(0.3), abs=1e-4)


@pytest.mark.parametrize(
    ("at", "normal", "why", "where"),
    [
        ((0.0, 0.0, 10.0), (0.0, 0.0, 1.0), "no cavity is behind the wall", (0.0, 0.0, -10.0)),
        ((0.0, 0.0, 15.0), (0.0, 0.0, 1.0), "there is no wall", (0.0, 0.0, 15.0)),
        ((0.0, 100.0, 0.0), (1.0, 0.0, 0.0), "there is no wall", (0.0, 100.0, 0.0)),
        ((-3.0, 0.0, 0.0), (-1.0, 0.0, 0.0), "it would lead into cavity", (-3.0, 0.0, 0.0)),
    ],
)
def test_what_does_not_fit_is_refused_with_the_reason_and_the_place(
    at: tuple, normal: tuple, why: str, where: tuple
) -> None:
    refusal = dragged(at, normal)
    assert isinstance(refusal, str)
    assert why in refusal
    place = place_of_refusal(refusal)
    assert place is not None  # of a wall on its far side, of a cavity on its skin
    assert FINDINGS.scene.frame.to_file(place) == pytest.approx(where, abs=1e-5)
    numbers = refusal.partition(", at (")[2].removesuffix(") mm").split(", ")
    assert [float(x) for x in numbers] == pytest.approx(where, abs=1e-5)


def test_it_keeps_clear_of_other_vents() -> None:
    other = dragged((-9.0, -10.0, -2.0), (0.0, -1.0, 0.0))
    assert isinstance(other, Vent)
    other = replace(other, id="7")
    near = dragged((-7.0, -10.0, -2.0), (0.0, -1.0, 0.0), others=(other,))
    assert isinstance(near, str)
    assert near.startswith("it would come too near vent 7, at (-8.0, ")
    place = place_of_refusal(near)
    assert place is not None  # where the ligament is thinnest: half way between two holes side by side
    assert FINDINGS.scene.frame.to_file(place)[[0, 2]] == pytest.approx((-8.0, -2.0), abs=1e-5)
    assert isinstance(dragged((-5.0, -10.0, -2.0), (0.0, -1.0, 0.0), others=(other,)), Vent)


def test_a_vent_is_no_obstacle_to_itself() -> None:
    own = dragged((-9.0, -10.0, -2.0), (0.0, -1.0, 0.0))
    assert isinstance(own, Vent)
    assert isinstance(dragged((-8.5, -10.0, -2.0), (0.0, -1.0, 0.0), others=(own,)), Vent)


def test_turned_it_enters_at_the_same_point() -> None:
    start = dragged((-9.0, -10.0, -2.0), (0.0, -1.0, 0.0))
    assert isinstance(start, Vent)
    vent = turned(FINDINGS, start, np.array([0.0, 2.0, 0.5]))
    assert isinstance(vent, Vent)
    assert vent.entry_mm == pytest.approx(start.entry_mm, abs=1e-5)
    assert vent.axis == pytest.approx(np.array([0.0, 2.0, 0.5]) / np.hypot(2.0, 0.5))


def test_with_another_diameter_it_stays_where_it_is_and_is_fitted_again() -> None:
    start = dragged((-9.0, -10.0, -2.0), (0.0, -1.0, 0.0))
    assert isinstance(start, Vent)
    vent = resized(FINDINGS, start, 4.0)
    assert isinstance(vent, Vent)
    assert vent.diameter_mm == 4.0
    assert vent.entry_mm == pytest.approx(start.entry_mm, abs=1e-5)
    assert vent.reason == start.reason
    assert isinstance(resized(FINDINGS, start, 18.0), str)


@pytest.mark.parametrize("vent", proposed().vents, ids=lambda v: v.id)
def test_beyond_the_wall_follows_the_diameter_until_it_is_typed(vent: Vent) -> None:
    narrower = resized(FINDINGS, vent, 0.8 * vent.diameter_mm)
    assert isinstance(narrower, Vent)
    back = resized(FINDINGS, narrower, vent.diameter_mm)
    assert isinstance(back, Vent)
    assert back.beyond_mm == pytest.approx(vent.beyond_mm, abs=0.02)
    if abs(vent.axis[2]) not in (0.0, 1.0):  # on a slant a wider drill needs more
        assert narrower.beyond_mm < vent.beyond_mm - 0.02
    typed = resized(FINDINGS, replace(vent, beyond_mm=vent.beyond_mm + 0.7), 0.8 * vent.diameter_mm)
    assert isinstance(typed, Vent)
    assert typed.beyond_mm == vent.beyond_mm + 0.7


def test_a_widened_opening_keeps_its_ends() -> None:
    widened = replace(VENT, kind="widen")
    vent = resized(FINDINGS, widened, 3.1)
    assert isinstance(vent, Vent)
    assert vent == replace(widened, diameter_mm=3.1)


@settings(max_examples=40)
@given(st.floats(-20, 20), st.floats(-10, 10), st.sampled_from([1.0, -1.0]))
def test_what_fits_opens_a_cavity(x: float, z: float, side: float) -> None:
    vent = dragged((x, 10.0 * side, z), (0.0, side, 0.0))
    if isinstance(vent, Vent):
        end = np.asarray(vent.exit_mm) + 0.1 * np.asarray(vent.axis)
        centre = {"A": np.array([-9.0, 0.0, -2.0]), "B": np.array([9.0, 0.0, 1.0])}[vent.cavity]
        assert (np.abs(end - centre) <= 6.0 + 1e-6).all()


def test_a_vent_out_of_an_open_chamber_is_known_as_its_own() -> None:
    # A chamber with a hole in its lid: its floor is sealed, its upper part is open.
    lid = box((20.0, 20.0, 20.0))
    body = cut(lid, box(14.0), rod((0, 0, 0), (0, 0, 12), 1.5))
    findings = analyse(solid(fine(body, 1)))
    point = findings.scene.frame.to_build(np.array([-10.0, 0.0, 5.0]))
    vent = moved(findings, VENT, point, np.array([-1.0, 0.0, 0.0]), False)
    assert isinstance(vent, Vent)
    assert vent.cavity == "A"
