"""In what share of the views a place is seen, against cases that formulas answer: ball, box, well."""

from __future__ import annotations

from itertools import pairwise

import bodies
import numpy as np
import pytest

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.pose import BuildFrame, Pose
from ventplanner.geometry.solid import Solid
from ventplanner.plan.views import Views, all_around

UP, SIDE = np.array([[0.0, 0.0, 1.0]]), np.array([[1.0, 0.0, 0.0]])


def evenly(findings: Findings, rings: int = 24) -> Views:
    """All directions alike."""
    directions, area = all_around(rings)
    return Views(findings.scene.frame.direction_to_build(directions), area / area.sum())


def found(*meshes: bodies.Mesh, pose: Pose | None = None) -> Findings:
    return analyse(bodies.solid(*meshes), pose)


def test_directions_cover_the_sphere_evenly() -> None:
    directions, area = all_around()
    assert np.allclose(np.linalg.norm(directions, axis=1), 1.0)
    assert np.isclose(area.sum(), 4.0 * np.pi)
    assert np.allclose(area @ directions, 0.0, atol=1e-12)
    # The mean of z^2 over the sphere is a third.
    assert np.isclose(area @ directions[:, 2] ** 2 / (4.0 * np.pi), 1.0 / 3.0, atol=0.005)


def test_directions_are_the_same_after_a_quarter_turn() -> None:
    directions, _ = all_around()
    turned = directions @ np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    assert {tuple(d) for d in np.round(turned, 9)} == {tuple(d) for d in np.round(directions, 9)}


def test_a_place_on_a_ball_is_seen_from_one_half_of_all_directions() -> None:
    findings = found(bodies.ball(10.0, fine=5))
    for normal in (UP, SIDE, np.array([[0.6, 0.0, -0.8]])):
        at = findings.scene.frame.to_build(10.0 * normal)
        seen = evenly(findings).seen(findings.scene.sight, at, normal)
        assert seen[0] == pytest.approx(0.5, abs=0.03)


def test_a_place_on_a_box_is_seen_from_one_half_and_from_nowhere_behind() -> None:
    findings = found(bodies.box(20.0))
    at = findings.scene.frame.to_build(np.array([[10.0, 3.0, -2.0]]))
    assert evenly(findings).seen(findings.scene.sight, at, SIDE)[0] == pytest.approx(0.5, abs=0.01)
    front = Views.of(findings.scene.frame, (-1.0, 0.0, 0.0))
    assert front.seen(findings.scene.sight, at, SIDE)[0] == 0.0
    front = Views.of(findings.scene.frame, (1.0, 0.0, 0.0))
    assert front.seen(findings.scene.sight, at, SIDE)[0] == pytest.approx(1.0)


@pytest.mark.parametrize(("radius", "depth"), [(4.0, 2.0), (3.0, 6.0), (5.0, 20.0)])
def test_the_bottom_of_a_well_is_seen_through_the_cone_of_its_mouth(radius: float, depth: float) -> None:
    block = bodies.cut(bodies.block((-15, -15, 0), (15, 15, 30)), bodies.rod((0, 0, 30 - depth), (0, 0, 40), radius))
    findings = found(block)
    at = np.array([[0.0, 0.0, 30.0 - depth]])
    # The share of the sphere in a cone of half angle a is (1 - cos a) / 2, tan a = radius / depth.
    expected = 0.5 * (1.0 - depth / np.hypot(radius, depth))
    assert evenly(findings, 48).seen(findings.scene.sight, at, UP)[0] == pytest.approx(expected, abs=0.006)


def test_without_a_direction_nobody_looks_from_below_and_few_from_above() -> None:
    findings = found(bodies.box(20.0))
    views = Views.of(findings.scene.frame)
    places = findings.scene.frame.to_build(np.array([[0.0, 0.0, -10.0], [10.0, 0.0, 0.0], [0.0, 0.0, 10.0]]))
    below, beside, above = views.seen(findings.scene.sight, places, np.array([[0, 0, -1.0], [1.0, 0, 0], [0, 0, 1.0]]))
    assert below < 0.03
    assert beside == pytest.approx(0.5, abs=0.02)
    assert above > 0.9  # what lies on top is in view from all sides, at a slant


def test_views_belong_to_the_file_and_not_to_the_print_pose() -> None:
    part = bodies.solid(bodies.box((20.0, 24.0, 28.0)))
    shares = []
    for to_plate in ((0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (0.3, -0.5, 0.8)):
        findings = analyse(part, Pose(to_plate))
        frame = findings.scene.frame
        at, normal = frame.to_build(np.array([[10.0, 2.0, 3.0]])), frame.direction_to_build(SIDE)
        shares.append([Views.of(frame, d).seen(findings.scene.sight, at, normal)[0] for d in (None, (1.0, 1.0, 0.2))])
    assert all(np.allclose(a, b, atol=1e-9) for a, b in pairwise(shares))


def test_shares_sum_to_one_whatever_the_direction() -> None:
    frame = BuildFrame.of(Solid(np.eye(3), np.array([[0, 1, 2]], dtype=np.int32)), Pose())
    for seen_from in (None, (0.0, 0.0, 1.0), (-3.0, 2.0, 0.5)):
        views = Views.of(frame, seen_from)
        assert np.isclose(views.share.sum(), 1.0)
        if seen_from is not None:
            front = np.array(seen_from) / np.linalg.norm(seen_from)
            assert (views.directions @ front).min() > 0.0
