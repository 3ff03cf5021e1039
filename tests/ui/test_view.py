"""The view on a screen: real mouse and keys, real pixels: scale, clicks, drags, cuts. One window for the whole file."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from ui.view_bench import Bench, drag, frame_of, middle_of, move, pixel, red, rgb_bytes, settle, wheel

from ventplanner.ui.view.colours import LIGHT
from ventplanner.ui.view.section import Section

LEFT, MIDDLE = Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton


def test_the_cavity_is_where_the_mapping_says_to_the_pixel(bench: Bench) -> None:
    view = bench.view
    frame = frame_of(bench)
    middle = pixel(view, (0.0, 0.0, 10.0))
    column = frame[:, middle.x()]
    blue = np.flatnonzero(column[:, 2] - column[:, 0] > 40)
    mapping = view.eye.mapping
    # The cavity reaches from 3 mm to 17 mm: both ends within half a pixel, a pixel being blue or not.
    assert abs(blue.min() - mapping.row(17.0)) <= 1.0
    assert abs(blue.max() + 1 - mapping.row(3.0)) <= 1.0
    assert mapping.linked


def test_the_chart_has_exactly_the_view_s_scale_after_zoom_and_pan_by_mouse(bench: Bench, qtbot: QtBot) -> None:
    view, chart = bench.view, bench.chart
    for _ in range(3):
        wheel(bench.sheet, QPointF(300, 200), 120)
        drag(bench.sheet, QPoint(100, 300), QPoint(140, 250), MIDDLE, qtbot)
        for height in (0.0, 7.3, 20.0):
            row = view.eye.to_screen(np.array([1.0, 2.0, height]))[1]
            assert chart.mapping.row(height) == pytest.approx(row, abs=1e-9)
            assert chart.mapFromGlobal(view.mapToGlobal(QPointF(0.0, row))).y() == pytest.approx(row)
    assert view.eye.mm_per_px == chart.mapping.mm_per_px


def test_zooming_and_panning_the_chart_moves_the_view(bench: Bench, qtbot: QtBot) -> None:
    before = bench.view.eye.mapping
    wheel(bench.chart, QPointF(60, 300), 240)
    zoomed = bench.view.eye.mapping
    assert zoomed.mm_per_px < before.mm_per_px
    assert zoomed.height(300) == pytest.approx(before.height(300))
    drag(bench.chart, QPoint(60, 250), QPoint(60, 310), MIDDLE, qtbot)
    assert bench.view.eye.mapping.row(5.0) == pytest.approx(zoomed.row(5.0) + 60.0)
    assert bench.chart.mapping == bench.view.eye.mapping


def test_turning_keeps_the_link_tilting_undoes_it_and_level_restores_it(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    drag(bench.sheet, QPoint(120, 80), QPoint(260, 84), LEFT, qtbot)
    assert view.eye.azimuth != 0.0
    assert bench.chart.mapping.linked
    drag(bench.sheet, QPoint(120, 80), QPoint(120, 200), LEFT, qtbot)
    assert view.eye.elevation > 20.0
    assert not view.eye.mapping.linked
    whole = bench.chart.mapping
    assert not whole.linked
    assert 0 < whole.row(20.0) < whole.row(-5.0) < bench.chart.height()
    view.level()
    assert bench.chart.mapping == view.eye.mapping
    assert bench.chart.mapping.linked


def test_hanging_turns_view_and_chart_over(bench: Bench, qtbot: QtBot) -> None:
    standing = frame_of(bench)
    bench.view.set_hanging(True)
    bench.chart.set_hanging(True)
    settle(bench, qtbot)
    mapping = bench.chart.mapping
    assert mapping == bench.view.eye.mapping
    assert mapping.row(-5.0) < mapping.row(0.0) < mapping.row(20.0)
    assert mapping.height_at_top_px < mapping.height_at_bottom_px
    hanging = frame_of(bench)
    # The cavity is the same height from its plate side, now from the top.
    for frame in (standing, hanging):
        column = frame[:, pixel(bench.view, (0.0, 0.0, 0.0)).x()]
        blue = np.flatnonzero(column[:, 2] - column[:, 0] > 40)
        assert len(blue) == pytest.approx(14.0 / bench.view.eye.mm_per_px, abs=2)
    bench.view.look_from(bench.view.eye.orbited(0.0, 30.0))
    tilted = bench.chart.mapping
    assert not tilted.linked
    assert tilted.row(-5.0) < tilted.row(20.0)


def test_a_click_on_a_proposal_gives_its_word(bench: Bench, qtbot: QtBot) -> None:
    vent = bench.view.shown.picture.vents[0]  # type: ignore[union-attr]
    bench.view.look("left")
    with qtbot.waitSignal(bench.view.clicked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=pixel(bench.view, middle_of(vent)))
    assert said.args == ["proposal 1"]


def test_a_click_on_a_label_gives_its_word(bench: Bench, qtbot: QtBot) -> None:
    cavity = bench.view.shown.picture.cavities[0]  # type: ignore[union-attr]
    with qtbot.waitSignal(bench.view.clicked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=pixel(bench.view, tuple(cavity.label_at)))
    assert said.args == ["cavity A"]


@pytest.mark.parametrize(
    ("point", "word"), [((4.0, 0.0, 5.0), "cavity A"), ((9.0, 0.0, 10.0), ""), ((40.0, 0.0, 10.0), "")]
)
def test_a_click_goes_through_the_skin_to_the_cavity_and_elsewhere_means_nothing(
    bench: Bench, qtbot: QtBot, point: tuple[float, float, float], word: str
) -> None:
    with qtbot.waitSignal(bench.view.clicked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=pixel(bench.view, point))
    assert said.args == [word]


def test_a_double_click_and_return_activate(bench: Bench, qtbot: QtBot) -> None:
    with qtbot.waitSignal(bench.view.activated) as said:
        QTest.mouseDClick(bench.sheet, LEFT, pos=pixel(bench.view, (4.0, 0.0, 5.0)))
    assert said.args == ["cavity A"]
    bench.show_picture(replace(bench.view.shown.picture, selected="proposal 1"))  # type: ignore[type-var]
    with qtbot.waitSignal(bench.view.activated) as said:
        QTest.keyClick(bench.view, Qt.Key.Key_Return)
    assert said.args == ["proposal 1"]


def test_dragging_a_vent_gives_places_on_the_skin_and_renders_nothing(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    vent = view.shown.picture.vents[0]  # type: ignore[union-attr]
    view.look("left")
    view.look_from(view.eye.orbited(60.0, 0.0))
    settle(bench, qtbot)
    said: list[tuple[str, object]] = []
    view.drag_started.connect(lambda name: said.append(("started", name)))
    view.drag_ended.connect(lambda name: said.append(("ended", name)))
    places: list[tuple[np.ndarray, np.ndarray]] = []
    view.dragged.connect(lambda _name, point, normal: places.append((point, normal)))
    frames: list[float] = []
    view.frame_drawn.connect(frames.append)
    begin = pixel(view, vent.start)
    eye = view.eye
    drag(bench.sheet, begin, begin + QPoint(30, -60), LEFT, qtbot, steps=8)
    assert said == [("started", "proposal 1"), ("ended", "proposal 1")]
    assert view.eye == eye
    assert frames == []
    assert len(places) >= 6
    for point, normal in places:
        assert np.allclose(normal, [0, -1, 0]) or np.allclose(normal, [-1, 0, 0])
        assert max(abs(point[0]), abs(point[1])) == pytest.approx(10.0, abs=1e-6)
    # The last place is under the pointer.
    assert np.allclose(view.eye.to_screen(places[-1][0])[:2], [begin.x() + 30, begin.y() - 60], atol=0.5)
    assert view.shown.dragged is None


def test_while_dragging_the_fitted_drill_is_shown_and_escape_gives_up(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.look("left")
    view.look_from(view.eye.orbited(60.0, 0.0))
    vent = view.shown.picture.vents[0]  # type: ignore[union-attr]
    fitted = replace(vent, diameter=1.7)
    answer = view.dragged.connect(lambda *_: view.show_overlay(fitted))
    begin = pixel(view, vent.start)
    QTest.mousePress(bench.sheet, LEFT, pos=begin)
    move(bench.sheet, begin + QPoint(10, -20), LEFT)
    move(bench.sheet, begin + QPoint(12, -30), LEFT)
    assert view.shown.dragged == fitted
    with qtbot.waitSignal(view.drag_cancelled) as said:
        QTest.keyClick(view, Qt.Key.Key_Escape)
    assert said.args == ["proposal 1"]
    assert view.shown.dragged is None
    QTest.mouseRelease(bench.sheet, LEFT, pos=begin)
    view.dragged.disconnect(answer)


def test_where_the_dragged_drill_does_not_fit_it_is_empty_and_says_why(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    vent = view.shown.picture.vents[0]  # type: ignore[union-attr]
    begin = pixel(view, vent.start)
    QTest.mousePress(bench.sheet, LEFT, pos=begin)
    move(bench.sheet, begin + QPoint(10, -20), LEFT)
    move(bench.sheet, begin + QPoint(12, -30), LEFT)
    inside = begin + QPoint(12, -30)
    fits = max(red(view.grab_image(), inside))
    view.show_refusal("no cavity is behind the wall")
    refused = max(red(view.grab_image(), inside))
    assert fits < 60 < refused
    # It stays under the pointer, though it would fit elsewhere.
    under_pointer = view.shown.dragged
    view.show_overlay(replace(vent, diameter=1.7))
    assert view.shown.dragged == under_pointer
    view.show_refusal("")
    view.show_overlay(under_pointer)  # type: ignore[arg-type]
    assert max(red(view.grab_image(), inside)) == fits
    view.show_refusal("no cavity is behind the wall")
    QTest.mouseRelease(bench.sheet, LEFT, pos=inside)
    assert view.shown.refusal == ""
    # The reasons that fields get are not for the picture.
    view.show_refusal("no cavity is behind the wall")
    assert view.shown.refusal == ""


def test_the_printed_handle_cuts_the_part_there_and_names_the_live_cavity(bench: Bench, qtbot: QtBot) -> None:
    view, chart = bench.view, bench.chart
    top = QPoint(chart.width() - 30, round(chart.mapping.row(20.0)))
    goal = round(chart.mapping.row(10.0))
    with qtbot.waitSignal(chart.printed_dragged):
        drag(chart, top, QPoint(top.x(), goal), LEFT, qtbot)
    assert chart.printed == pytest.approx(10.0, abs=chart.mapping.mm_per_px)
    assert view.shown.printed == chart.printed
    assert [name for name, _ in view.shown.live] == ["A"]
    settle(bench, qtbot)
    column = frame_of(bench)[:, pixel(view, (0.0, 0.0, 0.0)).x()]
    blue = np.flatnonzero(column[:, 2] - column[:, 0] > 40)
    assert abs(blue.min() - chart.mapping.row(chart.printed)) <= 1.5
    assert "sealed: A" in chart.accessibleDescription()
    # Dragged beyond the top it is the whole part again.
    drag(chart, QPoint(top.x(), goal), QPoint(top.x(), 5), LEFT, qtbot)
    assert chart.printed is None
    assert view.shown.printed is None


def test_what_is_cut_away_cannot_be_clicked(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.set_printed(8.0)
    for point, word in (((4.0, 0.0, 6.0), "cavity A"), ((4.0, 0.0, 12.0), "")):
        with qtbot.waitSignal(view.clicked) as said:
            QTest.mouseClick(bench.sheet, LEFT, pos=pixel(view, point))
        assert said.args == [word]


def test_a_free_section_shows_the_wall_cut_and_moves(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.set_section(Section((0.0, 0.0, 10.0), (0.0, -1.0, 0.0)))
    settle(bench, qtbot)
    image = view.grab_image()
    wall = red(image, pixel(view, (8.5, 0.0, 12.0)))
    assert max(abs(a - b) for a, b in zip(wall, rgb_bytes(LIGHT.cut), strict=True)) < 40
    inside = red(image, pixel(view, (4.0, 0.0, 12.0)))
    assert inside[2] - inside[0] > 40
    with qtbot.waitSignal(view.section_changed):
        wheel(bench.sheet, QPointF(300, 200), 120, Qt.KeyboardModifier.ShiftModifier)
    assert view.shown.section is not None
    assert view.shown.section.point[1] < 0.0
