"""Openings that the model came with, closed: flush, with the wall's own material, and nothing sealed unnoticed."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import sample_parts
import trimesh
from bodies import ball, box, cut, inward, rod, solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app.dragging import moved
from ventplanner.geometry.solid import Solid
from ventplanner.plan.closing import NO_HOLE, Closed, closed, filled
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.verification import compare

BLANK = Vent("1", "", "", "vent", (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 2.0, 0.0, 0.0, 0.0)
TOP, SIDE = rod((0.4, 0.3, 20.0), (0.4, 0.3, 30.0), 1.0), rod((5.0, 2.0, 9.0), (20.0, 2.0, 9.0), 1.2)


def boxed(*holes: trimesh.Trimesh) -> Solid:
    return solid(cut(box(26.0, (0.0, 0.0, 13.0)), box(20.0, (0.0, 0.0, 13.0)), *holes))


@cache
def with_two() -> Findings:
    return analyse(boxed(TOP, SIDE))


def opening_near(findings: Findings, at: tuple[float, float, float]):  # type: ignore[no-untyped-def]
    found = [o for c in findings.cavities for o in c.openings]
    return min(found, key=lambda o: float(np.linalg.norm(findings.scene.frame.to_file(o.at) - at)))


def done(found: Closed | str) -> Closed:
    assert isinstance(found, Closed), found
    return found


def test_a_hole_in_a_flat_wall_is_filled_exactly() -> None:
    findings = with_two()
    made = done(closed(findings, opening_near(findings, (11.5, 2.0, 9.0)), Plan()))
    exact, mesh = boxed(TOP), trimesh.Trimesh(made.solid.vertices, made.solid.faces, process=False)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(exact.volume, abs=1e-6)
    assert made.added_mm3 == pytest.approx(exact.volume - findings.part.volume, abs=1e-6)
    assert mesh.euler_number == trimesh.Trimesh(exact.vertices, exact.faces, process=False).euler_number
    # Flush: on the face of the box there is nothing in front of it or behind it.
    there = made.solid.vertices[np.linalg.norm(made.solid.vertices - [13.0, 2.0, 9.0], axis=1) < 2.0]
    assert len(there) > 50
    assert np.abs(there[:, 0] - 13.0).max() < 1e-6


def test_far_from_the_hole_every_vertex_is_the_same() -> None:
    findings = with_two()
    made = done(closed(findings, opening_near(findings, (11.5, 2.0, 9.0)), Plan())).solid
    old = findings.part.vertices
    away = np.linalg.norm(old[:, 1:] - [2.0, 9.0], axis=1) > 1.6
    kept = {tuple(v) for v in made.vertices.tolist()}
    assert all(tuple(v) in kept for v in old[away].tolist())


@pytest.mark.parametrize("way", [(0.0, 0.0, 1.0), (0.6, -0.5, 0.3)])
def test_in_a_curved_wall_the_patch_follows_the_skins(way: tuple[float, float, float]) -> None:
    out = np.array(way) / np.linalg.norm(way)
    outer, inner = ball(14.0, fine=4), ball(11.0, fine=4)
    other = rod((0.0, 0.0, 0.0), (0.0, -20.0, 0.0), 1.0)
    part = solid(cut(outer, inner, rod((0.0, 0.0, 0.0), tuple(20.0 * out), 1.1), other))
    findings = analyse(part)
    made = done(closed(findings, opening_near(findings, tuple(12.5 * out)), Plan()))
    new = made.solid.vertices[~np.isin(made.solid.vertices, part.vertices).all(axis=1)]
    far = np.linalg.norm(new, axis=1)
    assert np.minimum(np.abs(far - 14.0), np.abs(far - 11.0)).max() < 0.05  # facets of the ball: 0.02 mm
    assert made.added_mm3 == pytest.approx(np.pi * 1.1**2 * 3.0, rel=0.02)


def test_the_last_way_out_is_not_closed_and_a_vent_of_the_plan_makes_it_one_of_two() -> None:
    findings = analyse(boxed(SIDE))
    opening = opening_near(findings, (11.5, 2.0, 9.0))
    told = closed(findings, opening, Plan())
    assert isinstance(told, str)
    assert "would be sealed" in told
    frame = findings.scene.frame
    vent = moved(findings, BLANK, frame.to_build(np.array([0.0, 0.0, 0.0])), np.array([0.0, 0.0, -1.0]), False)
    assert isinstance(vent, Vent), vent
    made = done(closed(findings, opening, Plan(vents=(vent,))))
    # The vent is drilled into the closed part, and verified as ever.
    assert compare(made.solid, drill(made.solid, Plan(vents=(vent,))).solid, Plan(vents=(vent,))) == ()


def test_an_opening_that_a_vent_of_the_plan_widens_is_not_closed() -> None:
    findings = with_two()
    wide = Vent("7", "A", "", "widen", (13.0, 2.0, 9.0), (10.0, 2.0, 9.0), (-1.0, 0.0, 0.0), 3.0, 3.0, 0.3, 0.3)
    told = closed(findings, opening_near(findings, (11.5, 2.0, 9.0)), Plan(vents=(wide,)))
    assert told == "vent 7 of the plan is there: remove it first"


def test_a_slit_and_an_open_mouth_are_no_holes() -> None:
    slit = box((30.0, 14.0, 0.8), (10.0, 0.0, 12.0))
    findings = analyse(boxed(TOP, slit))
    assert closed(findings, opening_near(findings, (11.5, 0.0, 12.0)), Plan()) == NO_HOLE


def test_what_opens_late_without_it_is_told() -> None:
    findings = analyse(boxed(TOP, rod((5.0, 2.0, 4.6), (20.0, 2.0, 4.6), 1.2)))
    made = done(closed(findings, opening_near(findings, (11.5, 2.0, 4.6)), Plan()))
    assert "opens late" in made.late


@settings(max_examples=8, deadline=None)
@given(st.floats(0.4, 1.6), st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(6.0, 18.0))
def test_whatever_is_closed_takes_one_opening_away_and_fills_its_hole(
    radius: float, slope: float, rise: float, height: float
) -> None:
    hole = rod((8.0, 1.0 - 3.5 * slope, height - 3.5 * rise), (16.0, 1.0 + 4.5 * slope, height + 4.5 * rise), radius)
    part, whole = boxed(TOP, hole), boxed(TOP)
    findings = analyse(part)
    made = closed(findings, opening_near(findings, (11.5, 1.0, height)), Plan())
    if isinstance(made, str):
        return
    mesh = trimesh.Trimesh(made.solid.vertices, made.solid.faces, process=False)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(whole.volume, abs=1e-4)
    before = sum(len(c.openings) for c in findings.cavities)
    assert sum(len(c.openings) for c in analyse(made.solid).cavities) == before - 1


def test_inward_skins_of_another_hollow_are_left_alone() -> None:
    pocket = inward(box((2.0, 2.0, 2.0), (11.5, -6.0, 18.0)))
    part = solid(cut(box(26.0, (0.0, 0.0, 13.0)), box(20.0, (0.0, 0.0, 13.0)), TOP, SIDE), pocket)
    findings = analyse(part)
    made = done(closed(findings, opening_near(findings, (11.5, 2.0, 9.0)), Plan()))
    assert made.solid.volume == pytest.approx(boxed(TOP).volume - 8.0, abs=1e-6)


def test_a_hole_is_closed_whose_narrowest_place_lies_at_a_slanted_mouth() -> None:
    """There the wall stands on one side alone, and no bore was seen."""
    findings = sample_parts.findings("whelk")
    (cavity,) = findings.cavities
    _, opening = sorted(cavity.openings, key=lambda o: float(o.at[0]))
    made = filled(findings, opening, Plan())
    assert isinstance(made, Solid), made
    mesh = trimesh.Trimesh(made.vertices, made.faces, process=False)
    assert mesh.is_watertight
    # As much as a plug of the hole's width and the wall's 2.5 to 4.5 mm.
    added = (mesh.volume - findings.part.volume) / (np.pi / 4.0 * opening.width**2)
    assert 2.5 < added < 4.5
    assert len(analyse(made).cavities[0].openings) == 1
