"""The view on a screen: faces picked, keys, hovering, what is redrawn and what is not. One window for all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog
from pytestqt.qtbot import QtBot
from ui.pictures import picture_of_sample
from ui.view_bench import Bench, drag, frame_of, middle_of, move, pixel, red, settle, wheel

from ventplanner.ui.view.colours import DARK
from ventplanner.ui.view.drill_shape import carried
from ventplanner.ui.view.eye import Eye
from ventplanner.ui.view.view import View

LEFT, MIDDLE = Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton


def test_picking_a_face_gives_its_outward_normal_once(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.look("right")
    view.set_tool("face")
    with qtbot.waitSignal(view.face_picked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=pixel(view, (0.0, 4.0, 5.0)))
    assert np.allclose(said.args[0], [1.0, 0.0, 0.0])
    assert view.tool == "look"


def test_keys_orbit_zoom_pan_and_choose_sides(bench: Bench) -> None:
    view = bench.view
    start = view.eye
    QTest.keyClick(view, Qt.Key.Key_Right)
    assert view.eye.azimuth == pytest.approx(15.0)
    QTest.keyClick(view, Qt.Key.Key_Up)
    assert view.eye.elevation == pytest.approx(15.0)
    QTest.keyClick(view, Qt.Key.Key_Home)
    assert view.eye.is_level
    QTest.keyClick(view, Qt.Key.Key_Plus)
    assert view.eye.mm_per_px < start.mm_per_px
    QTest.keyClick(view, Qt.Key.Key_Minus)
    assert view.eye.mm_per_px == pytest.approx(start.mm_per_px)
    sides = [
        (Qt.Key.Key_2, 180.0, 0.0),
        (Qt.Key.Key_3, -90.0, 0.0),
        (Qt.Key.Key_5, 0.0, 90.0),
        (Qt.Key.Key_1, 0.0, 0.0),
    ]
    for key, azimuth, elevation in sides:
        QTest.keyClick(view, key)
        assert (view.eye.azimuth, view.eye.elevation) == (azimuth, elevation)
    QTest.keyClick(view, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert view.eye.focus[2] > start.focus[2]
    QTest.keyClick(view, Qt.Key.Key_0)
    assert view.eye.focus == pytest.approx(start.focus, abs=1e-6)


def test_hovering_names_the_cavity_and_leaving_forgets_it(bench: Bench) -> None:
    move(bench.sheet, pixel(bench.view, (4.0, 0.0, 5.0)))
    assert bench.view.shown.hovered == "cavity A"
    move(bench.sheet, pixel(bench.view, (40.0, 0.0, 5.0)))
    assert bench.view.shown.hovered == ""


def test_an_accepted_vent_is_dark_before_and_after_it_is_cut_and_no_click_is_lost_meanwhile(
    bench: Bench, qtbot: QtBot
) -> None:
    picture = picture_of_sample("lighthouse.stl", accept=1, drilled=True)
    aims: list[object] = []  # when other surfaces have just come
    seen = bench.view.shapes_shown.connect(lambda: aims.append(bench.view.aim))
    for drilled in (None, picture.drilled):
        bench.show_picture(replace(picture, drilled=drilled))
        settle(bench, qtbot)
        vent = picture.vents[0]
        middle = pixel(bench.view, middle_of(vent))
        frame = frame_of(bench)
        skin = frame[middle.y(), pixel(bench.view, (12.0, 0.0, middle_of(vent)[2])).x()]
        assert frame[middle.y(), middle.x()].max() < 0.65 * skin.min()
    bench.view.shapes_shown.disconnect(seen)
    assert aims[-1] is not None
    assert bench.view.aim is not aims[-1]  # that of the part with its hole


def test_a_new_selection_or_theme_makes_no_surfaces_anew(bench: Bench, qtbot: QtBot) -> None:
    taken: list[int] = []
    bench.view.shapes_shown.connect(lambda: taken.append(1))
    picture = bench.view.shown.picture
    assert picture is not None
    bench.show_picture(replace(picture, selected="cavity A"))
    bench.view.set_colours(DARK)
    bench.chart.set_colours(DARK)
    bench.show_picture(replace(picture, stale=True))
    settle(bench, qtbot)
    assert taken == []
    dark = red(bench.view.grab_image(), QPoint(200, 30))
    assert max(dark) < 80


def test_no_picture_shows_an_empty_room(bench: Bench, qtbot: QtBot) -> None:
    bench.show_picture(None)
    settle(bench, qtbot)
    frame = frame_of(bench)
    assert np.ptp(frame[:, 300], axis=0).max() < 25
    with qtbot.waitSignal(bench.view.clicked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=QPoint(300, 300))
    assert said.args == [""]


def test_an_overlay_repaint_renders_no_frame(bench: Bench, qtbot: QtBot) -> None:
    frames: list[float] = []
    bench.view.frame_drawn.connect(frames.append)
    for k in range(5):
        move(bench.sheet, pixel(bench.view, (4.0, 0.0, 5.0)) if k % 2 else QPoint(5, 5))
        qtbot.wait(10)
    assert frames == []


def test_steps_of_a_drag_render_no_frame_and_the_screen_follows_them(bench: Bench, qtbot: QtBot) -> None:
    view, picture = bench.view, picture_of_sample("lighthouse.stl", accept=1)
    bench.show_picture(picture)
    settle(bench, qtbot)
    vent = picture.vents[0]
    QTest.mousePress(bench.sheet, LEFT, pos=pixel(view, middle_of(vent)))
    move(bench.sheet, pixel(view, middle_of(vent)) + QPoint(8, -8), LEFT)
    assert view.shown.dragged is not None
    settle(bench, qtbot)  # drawn once without the drill in hand
    frames: list[float] = []
    view.frame_drawn.connect(frames.append)
    for k in range(1, 6):
        fitted = carried(vent, np.add(vent.entry, (0.0, 0.0, 1.5 * k)))
        bench.show_picture(replace(picture, vents=(fitted, *picture.vents[1:]), selected="cavity A" if k > 3 else ""))
        view.show_overlay(fitted)
        qtbot.waitUntil(lambda: on_screen(view) == view.grab_image().convertToFormat(on_screen(view).format()))
    assert frames == []
    QTest.mouseRelease(bench.sheet, LEFT)
    qtbot.waitUntil(lambda: len(frames) > 0)  # now with it


def on_screen(view: View) -> QImage:
    """What the user sees, painted bit by bit; a grab paints all of it anew."""
    return view.screen().grabWindow(view.winId()).toImage()


def test_the_view_says_what_it_shows_in_words(bench: Bench) -> None:
    assert bench.view.accessibleName() == "Part"
    assert bench.view.accessibleDescription() == "1 cavity: A sealed."


def test_a_window_resized_keeps_a_fitted_part_fitted_and_a_moved_one_at_its_scale(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    before = view.eye.mm_per_px
    bench.resize(700, 420)
    qtbot.waitUntil(lambda: view.height() == 420)
    assert view.eye.mm_per_px > before
    wheel(bench.sheet, QPointF(200, 200), 120)
    kept = view.eye.mm_per_px
    bench.resize(800, 600)
    qtbot.waitUntil(lambda: view.height() == 600)
    assert view.eye.mm_per_px == kept
    assert isinstance(view.eye, Eye)


@pytest.fixture
def ends(bench: Bench) -> Iterator[list[str]]:
    """What the view says about the end of drags."""
    said: list[str] = []
    view = bench.view
    made = (
        view.drag_ended.connect(lambda _: said.append("ended")),
        view.drag_cancelled.connect(lambda _: said.append("cancelled")),
    )
    yield said
    view.drag_ended.disconnect(made[0])
    view.drag_cancelled.disconnect(made[1])


def take_in_hand(bench: Bench) -> QPoint:
    """A vent is dragged a little, and the button is still held."""
    vent = next(v for v in bench.view.shown.picture.vents if not bench.view.shown.is_gone(v.entry))  # type: ignore[union-attr]
    place = pixel(bench.view, middle_of(vent))
    QTest.mousePress(bench.sheet, LEFT, pos=place)
    for step in range(4):
        move(bench.sheet, place + QPoint(4 * step, -8 * step), LEFT)
    assert bench.view._gestures.doing == "dragging"
    return place


def test_a_button_that_was_let_go_elsewhere_ends_the_drag_at_the_next_move(
    bench: Bench, ends: list[str], qtbot: QtBot
) -> None:
    place = take_in_hand(bench)
    move(bench.sheet, place)  # no button is held any more
    assert (ends, bench.view._gestures.doing, bench.view.shown.dragged) == (["ended"], "", None)
    before = bench.view.eye
    move(bench.sheet, place + QPoint(60, 40))
    assert (ends, bench.view.eye) == (["ended"], before)
    QTest.mouseRelease(bench.sheet, LEFT, pos=place)  # late: ends nothing, clicks nothing
    assert ends == ["ended"]


def test_a_press_after_a_missed_release_begins_anew(bench: Bench, ends: list[str], qtbot: QtBot) -> None:
    take_in_hand(bench)
    drag(bench.sheet, QPoint(100, 300), QPoint(140, 250), MIDDLE, qtbot)  # the left button is not told as held
    assert ends == ["ended"]
    take_in_hand(bench)
    place = take_in_hand(bench)
    assert ends == ["ended", "ended"]
    QTest.mouseRelease(bench.sheet, LEFT, pos=place)
    assert ends == ["ended"] * 3


def test_a_dialog_or_another_window_ends_a_drag_and_a_turn(bench: Bench, ends: list[str], qtbot: QtBot) -> None:
    take_in_hand(bench)
    dialog = QDialog(bench.view.window())
    dialog.open()
    qtbot.waitUntil(lambda: ends == ["ended"])
    assert bench.view._gestures.doing == ""
    dialog.close()
    dialog.deleteLater()
    bench.view.window().activateWindow()
    qtbot.waitUntil(bench.view.window().isActiveWindow)
    QTest.mousePress(bench.sheet, LEFT, pos=QPoint(120, 80))
    move(bench.sheet, QPoint(160, 80), LEFT)
    assert bench.view._gestures.doing == "turning"
    other = QDialog()
    other.show()
    other.activateWindow()
    qtbot.waitUntil(lambda: bench.view._gestures.doing == "")
    other.close()
    other.deleteLater()
    bench.view.window().activateWindow()
    qtbot.waitUntil(bench.view.window().isActiveWindow)
    before = bench.view.eye
    move(bench.sheet, QPoint(260, 120), LEFT)
    assert bench.view.eye == before
    assert ends == ["ended"]


def test_the_handle_of_the_chart_is_let_go_when_no_button_is_held_any_more(bench: Bench, qtbot: QtBot) -> None:
    chart = bench.chart
    heights: list[object] = []
    answer = chart.printed_dragged.connect(heights.append)
    place = QPoint(chart.width() - 30, round(chart.mapping.row(20.0)))
    QTest.mousePress(chart, LEFT, pos=place)
    move(chart, place + QPoint(0, 20), LEFT)
    assert len(heights) == 1
    move(chart, place + QPoint(0, 60))
    move(chart, place + QPoint(0, 90))
    assert len(heights) == 1
    chart.printed_dragged.disconnect(answer)
