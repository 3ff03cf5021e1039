"""A look inside: ceilings, specks and thin walls of bodies whose measures are known."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import axis_rotations, ball, block, box, cone, inward, moved, rotation, solid

from ventplanner.analysis.findings import analyse
from ventplanner.analysis.inside import Inside, look_inside
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.options import AnalysisOptions, InsideLimits


def looked_at(part: Solid, pose: Pose | None = None, **limits: float) -> Inside:
    return look_inside(analyse(part, pose), limits=InsideLimits(**limits))


def test_a_box_has_a_flat_ceiling_of_its_own_area_and_height() -> None:
    (ceiling,) = looked_at(solid(box(20.0), inward(block((-6, -5, -7), (6, 5, 4))))).ceilings
    assert (ceiling.cavity, ceiling.touches) == ("A", 0)
    assert ceiling.area == pytest.approx(120.0)
    assert (ceiling.from_height, ceiling.to_height) == pytest.approx((14.0, 14.0))
    assert ceiling.steepness_deg == pytest.approx(0.0, abs=1e-6)
    assert ceiling.at[2] == pytest.approx(14.0)


def test_the_ceiling_of_a_ball_is_the_cap_within_the_angle() -> None:
    part = solid(box(30.0), inward(ball(10.0, fine=5)))
    for angle in (15.0, 30.0, 45.0):
        (ceiling,) = looked_at(part, overhang_deg=angle).ceilings
        assert ceiling.area == pytest.approx(2 * np.pi * 100 * (1 - np.cos(np.radians(angle))), rel=0.03)
        assert ceiling.from_height == pytest.approx(15.0 + 10.0 * np.cos(np.radians(angle)), abs=0.2)


def test_a_roof_steeper_than_the_angle_is_no_ceiling() -> None:
    part = solid(box(30.0), inward(cone(8.0, 8.0, (0, 0, -8))))  # 45 degrees
    assert looked_at(part, overhang_deg=44.0).ceilings == ()
    (ceiling,) = looked_at(part, overhang_deg=46.0).ceilings
    assert ceiling.area == pytest.approx(np.pi * 64 * np.sqrt(2), rel=0.01)
    assert ceiling.steepness_deg == pytest.approx(45.0, abs=0.1)


def test_ceilings_follow_the_pose_whatever_the_axes_of_the_file() -> None:
    part = solid(box(20.0), inward(block((-6, -5, -7), (6, 5, 4))))
    for turn in (*axis_rotations()[::7], rotation(3)):
        pose = Pose(tuple((turn @ np.array([0.0, 0.0, -1.0])).tolist()))
        (ceiling,) = looked_at(moved(part, turn), pose).ceilings
        assert ceiling.area == pytest.approx(120.0)


def test_specks_are_the_closed_voids_below_the_filter_however_small() -> None:
    voids = [inward(ball(r, at)) for r, at in ((0.8, (5, 0, 0)), (0.02, (-5, 0, 1)), (3.0, (0, 0, 5)))]
    inside = looked_at(solid(box(20.0), *voids))
    assert [s.volume for s in inside.specks] == pytest.approx(
        [4 / 3 * np.pi * 0.8**3, 4 / 3 * np.pi * 0.02**3], rel=0.01
    )
    assert inside.specks[0].at == pytest.approx([5.0, 0.0, 10.0], abs=1e-6)
    assert inside.specks[1].at == pytest.approx([-5.0, 0.0, 11.0], abs=1e-6)


def test_a_gap_between_bodies_that_overlap_all_round_is_a_speck() -> None:
    low, high = block((-8, -8, 0), (8, 8, 5)), block((-8, -8, 6), (8, 8, 11))
    sides = [block((-9, -9, 4), (9, 1, 7)), block((-9, 2, 4), (9, 9, 7)), block((-9, 0, 4), (0, 3, 7))]
    sides.append(block((2, 0, 4), (9, 3, 7)))
    (speck,) = looked_at(solid(low, high, *sides)).specks
    assert speck.volume == pytest.approx(2.0, rel=0.2)  # 2 x 1 x 1 mm, on columns of 0.1 to 0.3 mm
    assert speck.at == pytest.approx([1.0, 1.5, 5.5], abs=0.6)


def test_a_thin_wall_is_told_with_its_thickness_and_what_it_parts() -> None:
    left, right = block((-15, -8, -8), (-0.2, 8, 8)), block((0.2, -8, -8), (15, 8, 8))
    part = solid(box((40, 20, 20)), inward(left), inward(right))
    (thin,) = looked_at(part, thin_mm=0.6).thin
    assert thin.thickness == pytest.approx(0.4, abs=1e-6)
    assert thin.between == ("A", "B")
    assert thin.area == pytest.approx(16 * 16, rel=0.1)
    assert abs(thin.at[0]) < 1e-3
    assert looked_at(part, thin_mm=0.39).thin == ()


def test_a_slanted_skin_is_told_once_with_its_true_thickness() -> None:
    outer, inner = box(20.0), box(19.2)
    turn = rotation(11)
    part = moved(solid(outer, inward(inner)), turn)
    thin = looked_at(part, thin_mm=0.6).thin
    assert {t.between for t in thin} == {("", "A")}
    assert [t.thickness for t in thin] == pytest.approx([0.4] * len(thin), abs=1e-3)
    assert sum(t.area for t in thin) == pytest.approx(6 * 19.6**2, rel=0.1)


def test_a_solid_body_has_nothing_to_look_at() -> None:
    inside = looked_at(solid(box(20.0)))
    assert (inside.islands, inside.ceilings, inside.specks, inside.thin) == ((), (), (), ())


def test_a_mesh_with_an_open_edge_is_looked_into_all_the_same() -> None:
    part = solid(box(20.0), inward(block((-6, -5, -7), (6, 5, 4))))
    inside = look_inside(analyse(Solid(part.vertices, part.faces[1:]), options=AnalysisOptions()))
    assert len(inside.ceilings) == 1
