"""The eye: pixels and build heights are tied exactly; nothing jumps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplanner.geometry.pose import On, Pose
from ventplanner.ui.view.eye import SIDES, Eye
from ventplanner.ui.view.gestures import LEVEL_DEGREES, settled, unsettled
from ventplanner.ui.view.posing import laid_under

numbers = st.floats(-200.0, 200.0)
eyes = st.builds(
    Eye,
    focus=st.tuples(numbers, numbers, numbers),
    mm_per_px=st.floats(0.01, 2.0),
    width=st.integers(50, 2000),
    height=st.integers(50, 2000),
    azimuth=st.floats(-180.0, 180.0),
    elevation=st.sampled_from([0.0, 0.0, 35.0, -90.0, 90.0]),
    hanging=st.booleans(),
)


@given(eyes)
def test_axes_are_a_rotation(eye: Eye) -> None:
    assert np.allclose(eye.axes @ eye.axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(eye.axes) == pytest.approx(1.0)


@given(eyes, numbers, numbers, numbers)
def test_level_a_build_height_is_a_row_of_pixels_whatever_the_place(eye: Eye, x: float, y: float, z: float) -> None:
    level = eye.levelled()
    row = level.to_screen(np.array([x, y, z]))[1]
    assert row == pytest.approx(level.mapping.row(z), abs=1e-6)
    assert level.mapping.height(float(row)) == pytest.approx(z, abs=1e-6)
    assert level.mapping.mm_per_px == pytest.approx(level.mm_per_px)


@given(eyes, st.floats(0, 2000), st.floats(0, 2000))
def test_a_pixel_and_the_point_under_it_belong_together(eye: Eye, x: float, y: float) -> None:
    assert np.allclose(eye.to_screen(eye.under(x, y)), [x, y, 0.0], atol=1e-6)


@given(eyes, st.floats(0.2, 5.0), st.floats(0, 2000), st.floats(0, 2000))
def test_zooming_keeps_what_is_under_the_pointer(eye: Eye, factor: float, x: float, y: float) -> None:
    point = eye.under(x, y)
    assert np.allclose(eye.zoomed(factor, x, y).to_screen(point)[:2], [x, y], atol=1e-4)


@given(eyes, st.floats(-500, 500), st.floats(-500, 500))
def test_panning_moves_every_point_by_these_pixels(eye: Eye, right: float, down: float) -> None:
    point = np.array([3.0, -4.0, 50.0])
    moved = eye.panned(right, down).to_screen(point) - eye.to_screen(point)
    assert np.allclose(moved[:2], [right, down], atol=1e-6)


@given(eyes)
def test_hanging_is_standing_upside_down_and_not_mirrored(eye: Eye) -> None:
    standing = replace(eye, hanging=False).levelled()
    hanging = standing.turned_over(True)
    point = np.add(eye.focus, [1.0, 2.0, 3.0])
    a, b = standing.to_screen(point), hanging.to_screen(point)
    assert np.allclose(a[:2] + b[:2], [eye.width, eye.height])
    assert a[2] == pytest.approx(b[2])
    assert hanging.mapping.height_at_top_px < hanging.mapping.height_at_bottom_px
    assert standing.mapping.height_at_top_px > standing.mapping.height_at_bottom_px


@given(eyes)
def test_turning_by_a_lower_azimuth_moves_the_near_side_to_the_right(eye: Eye) -> None:
    level = eye.levelled()
    near = np.asarray(level.focus) + 10.0 * level.axes[2]
    assert level.orbited(-5.0, 0.0).to_screen(near)[0] > level.to_screen(near)[0]


@pytest.mark.parametrize("hanging", [False, True])
def test_a_fitted_box_stays_within_the_margins(hanging: bool) -> None:
    low, high = np.array([-20.0, -10.0, -5.0]), np.array([30.0, 12.0, 100.0])
    for azimuth, elevation in SIDES.values():
        eye = Eye(width=700, height=500, azimuth=azimuth, elevation=elevation, hanging=hanging)
        eye = eye.fitted(low, high, (60, 70, 30, 40))
        corners = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
        seen = eye.to_screen(corners)
        assert seen[:, 0].min() >= 60 - 1e-6
        assert seen[:, 0].max() <= 670 + 1e-6
        assert seen[:, 1].min() >= 70 - 1e-6
        assert seen[:, 1].max() <= 460 + 1e-6
        tight = np.array([seen[:, 0].min() - 60, seen[:, 1].min() - 70])
        assert tight.min() == pytest.approx(0.0, abs=1e-6)


def test_resizing_keeps_the_scale() -> None:
    eye = Eye(mm_per_px=0.2, width=400, height=300)
    assert eye.resized(900, 700).mm_per_px == eye.mm_per_px


@given(st.floats(-85.0, 85.0))
def test_a_small_tilt_stays_level_and_a_large_one_does_not_jump(raw: float) -> None:
    if abs(raw) <= LEVEL_DEGREES:
        assert settled(raw) == 0.0
    else:
        assert unsettled(settled(raw)) == pytest.approx(raw)
    assert abs(settled(raw + 0.01) - settled(raw)) <= 0.011


@pytest.mark.parametrize(("on", "gap"), [("plate", 0.0), ("supports", 7.0)])
def test_the_plate_of_another_pose_lies_below_the_part_as_it_would_hang(on: On, gap: float) -> None:
    rng = np.random.default_rng(4)
    corners, drawn = rng.normal(size=(30, 3)), Pose((0.3, -0.5, 0.4))
    wanted = Pose((0.6, 0.2, -0.7), on, 7.0)
    laid = laid_under(corners @ drawn.rotation.T, wanted.rotation @ drawn.rotation.T, wanted)
    plate = np.array(laid.corners) @ (wanted.rotation @ drawn.rotation.T).T
    held = corners @ wanted.rotation.T
    np.testing.assert_allclose(plate[:, 2], held[:, 2].min() - gap)
    assert (plate.min(axis=0)[:2] < held.min(axis=0)[:2]).all()
    assert (plate.max(axis=0)[:2] > held.max(axis=0)[:2]).all()


def test_a_point_beside_the_box_is_fitted_into_the_view_too() -> None:
    eye = replace(Eye(width=600, height=400), azimuth=30.0, elevation=20.0)
    low, high, beside = np.zeros(3), np.array([10.0, 10.0, 20.0]), np.array([[4.0, 60.0, -30.0]])
    seen = eye.fitted(low, high, (10, 20, 30, 40), beside).to_screen(np.vstack((low, high, beside)))
    assert (seen[:, :2] > (10 - 1e-6, 20 - 1e-6)).all()
    assert (seen[:, :2] < (570 + 1e-6, 360 + 1e-6)).all()
