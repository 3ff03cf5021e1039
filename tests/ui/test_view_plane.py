"""The free section plane in the view: its handle, its numbers, keys and buttons."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from ui.view_bench import Bench, drag, move, pixel, red, rgb_bytes, settle, wheel

from ventplanner.ui.view import plane
from ventplanner.ui.view.colours import LIGHT
from ventplanner.ui.view.eye import Eye
from ventplanner.ui.view.polygons import polygon_of
from ventplanner.ui.view.section import Section

LEFT = Qt.MouseButton.LeftButton
BOX = (np.array([-10.0, -20.0, 0.0]), np.array([10.0, 20.0, 50.0]))
units = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: float(np.linalg.norm(v)) > 0.1)
eyes = st.builds(
    Eye, azimuth=st.floats(-180, 180), elevation=st.sampled_from([0.0, 30.0, -90.0]), hanging=st.booleans()
)


def _section(direction: tuple[float, float, float]) -> Section:
    n = np.array(direction) / np.linalg.norm(direction)
    return Section((0.0, 0.0, 25.0), (float(n[0]), float(n[1]), float(n[2])))


def _grip(bench: Bench) -> QPoint:
    handle = bench.view.cutting.handle
    assert handle is not None
    return QPoint(*(round(float(v)) for v in handle.at))


def _normal(bench: Bench) -> tuple[float, float, float]:
    assert bench.view.shown.section is not None
    return bench.view.shown.section.normal


@given(units, st.floats(0, 1))
def test_a_plane_put_at_a_position_is_there_and_turning_it_over_keeps_the_number(
    direction: tuple[float, float, float], share: float
) -> None:
    section = _section(direction)
    goal = share * plane.reach(section, BOX)[1]
    there = plane.put_at(section, BOX, goal)
    assert plane.position(there, BOX) == pytest.approx(goal, abs=1e-9)
    assert there.normal == section.normal
    assert plane.position(plane.flipped(there), BOX) == pytest.approx(goal, abs=1e-9)


def test_the_position_of_a_level_plane_is_its_build_height() -> None:
    assert plane.position(Section((3.0, 4.0, 17.5), (0.0, 0.0, 1.0)), BOX) == pytest.approx(17.5)
    assert plane.reach(Section((0.0, 0.0, 1.0), (0.0, 0.0, -1.0)), BOX) == (0.0, 50.0)


def test_a_position_beyond_the_part_is_kept_at_its_edge() -> None:
    section = Section((0.0, 0.0, 10.0), (0.0, 0.0, 1.0))
    assert plane.put_at(section, BOX, 80.0).point[2] == pytest.approx(50.0)
    assert plane.put_at(section, BOX, -3.0).point[2] == pytest.approx(0.0)


@given(units, eyes)
def test_the_handle_lies_in_the_view_and_follows_the_pointer(direction: tuple[float, float, float], eye: Eye) -> None:
    eye = replace(eye, focus=(0.0, 0.0, 25.0))
    section = plane.put_at(_section(direction), BOX, 0.5 * plane.reach(_section(direction), BOX)[1])
    held = plane.handle(section, eye, BOX)
    assert np.all(held.at >= plane.INSIDE_PX - 1e-9)
    assert np.all(held.at <= np.array([eye.width, eye.height]) - plane.INSIDE_PX + 1e-9)
    moved = plane.dragged(section, eye, BOX, *(7.0 * held.along))
    went = (np.asarray(moved.point) - np.asarray(section.point)) @ np.asarray(section.normal)
    assert went == pytest.approx(min(7.0 * held.mm_per_px, plane.reach(section, BOX)[1] / 2), abs=1e-6)
    if held.mm_per_px > eye.mm_per_px * 1.0001:
        pixels = eye.to_screen(np.asarray(moved.point))[:2] - eye.to_screen(np.asarray(section.point))[:2]
        assert np.linalg.norm(pixels) <= 7.0 + 1e-6


def test_the_handle_of_a_plane_edge_on_is_dragged_along_its_normal(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.cutting.face("right")
    settle(bench, qtbot)
    before, grip = view.cutting.position, _grip(bench)
    drag(bench.sheet, grip, grip + QPoint(-30, 3), LEFT, qtbot)
    assert view.cutting.position == pytest.approx(before - 30 * view.eye.mm_per_px, abs=1e-6)
    assert _normal(bench) == (1.0, 0.0, 0.0)
    assert view.shown.eye.azimuth == 0.0
    settle(bench, qtbot)
    # What stood right of the plane is gone from the picture, what stood left of it is there.
    x = view.shown.section.point[0]  # type: ignore[union-attr]
    gone, there = (red(view.grab_image(), pixel(view, (x + away, 0.0, 0.8))) for away in (1.2, -1.2))
    sky, skin = rgb_bytes(LIGHT.ground), there
    assert max(abs(a - b) for a, b in zip(gone, sky, strict=True)) < 12
    assert gone != skin


def test_a_plane_that_faces_the_viewer_is_pulled_down_to_come_nearer(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.cutting.face("viewer")
    settle(bench, qtbot)
    grip = _grip(bench)
    drag(bench.sheet, grip, grip + QPoint(0, 25), LEFT, qtbot)
    assert view.shown.section is not None
    assert view.shown.section.point[1] == pytest.approx(-25 * view.eye.mm_per_px, abs=1e-6)


def test_the_pointer_on_the_handle_tells_where_the_plane_is_and_escape_puts_it_back(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.cutting.face("top")
    settle(bench, qtbot)
    grip, before = _grip(bench), view.shown.section
    move(bench.sheet, grip)
    assert view.shown.on_handle
    assert bench.sheet.cursor().shape() == Qt.CursorShape.OpenHandCursor
    QTest.mousePress(bench.sheet, LEFT, pos=grip)
    move(bench.sheet, grip + QPoint(0, 40), LEFT)
    assert view.shown.section != before
    QTest.keyClick(view, Qt.Key.Key_Escape)
    assert view.shown.section == before
    QTest.mouseRelease(bench.sheet, LEFT, pos=grip + QPoint(0, 40))
    assert view.shown.section == before
    assert not view.shown.on_handle


def test_keys_and_the_wheel_move_the_plane_by_steps_and_not_out_of_the_part(bench: Bench) -> None:
    view = bench.view
    view.cutting.face("top")
    assert view.cutting.position == pytest.approx(10.0)
    QTest.keyClick(view, Qt.Key.Key_PageUp)
    assert view.cutting.position == pytest.approx(11.0)
    QTest.keyClick(view, Qt.Key.Key_PageDown, Qt.KeyboardModifier.ShiftModifier)
    assert view.cutting.position == pytest.approx(10.9)
    wheel(bench.sheet, QPointF(300, 200), -240, Qt.KeyboardModifier.ShiftModifier)
    assert view.cutting.position == pytest.approx(8.9)
    for _ in range(20):
        QTest.keyClick(view, Qt.Key.Key_PageDown)
    assert view.cutting.position == pytest.approx(0.0)


def test_a_plane_goes_along_the_axis_of_a_vent_and_through_a_cavity(bench: Bench) -> None:
    view = bench.view
    vent = view.shown.picture.vents[0]  # type: ignore[union-attr]
    view.look("right")
    assert view.cutting.put_through(vent.word)
    section = view.shown.section
    assert section is not None
    assert np.allclose(section.beyond(np.array([vent.start, vent.end])), 0.0, atol=1e-9)
    assert float(view.eye.axes[2] @ np.asarray(section.normal)) > 0.99
    assert view.cutting.put_through("cavity A")
    label_at = view.shown.picture.cavities[0].label_at  # type: ignore[union-attr]
    assert view.shown.section is not None
    assert float(view.shown.section.beyond(label_at)) == pytest.approx(0.0, abs=1e-9)
    assert not view.cutting.put_through("cavity Z")


def test_along_an_axis_that_points_at_the_viewer_the_plane_stands_upright_and_the_view_turns_to_it(
    bench: Bench,
) -> None:
    view = bench.view
    vent = view.shown.picture.vents[0]  # type: ignore[union-attr]
    for hanging in (False, True):
        view.set_hanging(hanging)
        view.look("front")
        assert view.cutting.put_through(vent.word)
        section = view.shown.section
        assert section is not None
        assert section.normal[2] == 0.0
        assert np.allclose(section.beyond(np.array([vent.start, vent.end])), 0.0, atol=1e-9)
        assert float(view.eye.axes[2] @ np.asarray(section.normal)) == pytest.approx(1.0)
        view.cutting.close()


def test_along_an_upright_drill_the_plane_faces_the_viewer(bench: Bench) -> None:
    picture = bench.view.shown.picture
    assert picture is not None
    upright = replace(picture.vents[0], start=(0.0, 0.0, -1.0), end=(0.0, 0.0, 4.0), entry=(0.0, 0.0, 0.0))
    begun = Section((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    for eye in (Eye(azimuth=40.0), Eye(azimuth=40.0, elevation=90.0), Eye(azimuth=40.0, elevation=30.0)):
        section = plane.through(begun, replace(picture, vents=(upright,)), eye, upright.word)
        assert section is not None
        assert np.allclose(section.normal, eye.levelled().axes[2])


def test_turning_over_shows_the_other_half(bench: Bench) -> None:
    view = bench.view
    view.cutting.face("front")
    view.cutting.flip()
    assert _normal(bench) == (0.0, 1.0, 0.0)
    assert view.cutting.is_facing("front")
    assert not view.cutting.is_facing("top")
    view.set_hanging(True)
    view.cutting.face("top")
    assert _normal(bench) == (0.0, 0.0, -1.0)


def test_fitting_a_selection_enlarges_it_and_keeps_the_view_level(bench: Bench) -> None:
    view = bench.view
    whole = view.eye.mm_per_px
    view.fit_to(view.shown.picture.vents[0].word)  # type: ignore[union-attr]
    assert view.eye.mm_per_px < 0.6 * whole
    assert view.eye.is_level
    vent = view.shown.picture.vents[0]  # type: ignore[union-attr]
    for end in (vent.start, vent.end):
        x, y, _ = view.eye.to_screen(np.array(end))
        assert 0 < x < view.width()
        assert 0 < y < view.height()
    view.fit_to("cavity A")
    assert view.eye.mm_per_px < whole
    view.fit_to("nothing of that name")
    assert view.eye.mm_per_px == pytest.approx(whole)


@given(st.lists(st.tuples(st.floats(-1e9, 1e9), st.floats(-1e9, 1e9)), max_size=40))
def test_a_polygon_made_in_one_go_is_that_made_point_by_point(points: list[tuple[float, float]]) -> None:
    made = polygon_of(np.array(points).reshape(-1, 2))
    assert [(p.x(), p.y()) for p in made] == points


def test_the_drill_that_the_plane_goes_through_is_still_shown(bench: Bench) -> None:
    view = bench.view
    for azimuth in range(-180, 180, 7):
        view.look_from(replace(view.eye, azimuth=float(azimuth)))
        for vent in view.shown.picture.vents:  # type: ignore[union-attr]
            view.cutting.close()
            assert view.cutting.put_through(vent.word)
            assert vent.word in [v.word for v in view.shown.vents()]
