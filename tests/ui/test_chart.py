"""The breathing chart: its scales, its bands, its handle; painted on a real screen."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from ui.pictures import block, picture_of_sample

from ventplanner.ui.chart import Chart
from ventplanner.ui.chart_painting import AXIS_PX, RIGHT_PX
from ventplanner.ui.chart_scale import area_ticks, largest_area, own_mapping, stacked
from ventplanner.ui.picture import Band, ShownSections
from ventplanner.ui.view.eye import Mapping

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def chart(qtbot: QtBot) -> Chart:
    made = Chart()
    qtbot.addWidget(made)
    made.resize(200, 500)
    made.show()
    made.show_picture(block())
    return made


def image_of(chart: Chart) -> QImage:
    return chart.grab().toImage()


def is_bluish(image: QImage, x: float, y: float) -> bool:
    colour = QColor(image.pixel(round(x), round(y)))
    return colour.blue() - colour.red() > 40


def test_the_band_is_drawn_between_the_heights_where_the_cavity_is_sealed(chart: Chart) -> None:
    image = image_of(chart)
    mapping = chart.mapping
    column = AXIS_PX + 30
    for height, blue in ((1.0, False), (4.0, True), (10.0, True), (16.0, True), (18.5, False)):
        assert is_bluish(image, column, mapping.row(height)) == blue


def test_with_a_vent_the_filled_band_is_gone_and_the_dashed_edge_stays(chart: Chart) -> None:
    picture = block()
    band = picture.bands[0]
    chart.show_picture(replace(picture, bands=(Band("A", 0, band.without, np.zeros(len(band.without))),)))
    image = image_of(chart)
    assert not is_bluish(image, AXIS_PX + 30, chart.mapping.row(10.0))
    (vented,) = stacked(replace(picture, bands=(Band("A", 0, band.without, 0 * band.without),)))
    edge = AXIS_PX + vented.outline.max() * (200 - AXIS_PX - RIGHT_PX) / 200
    rows = range(round(chart.mapping.row(14.0)), round(chart.mapping.row(6.0)))
    blue = [any(is_bluish(image, edge + k, row) for k in (-1, 0, 1)) for row in rows]
    assert 0.3 < np.mean(blue) < 0.9


def test_bands_lie_upon_each_other_and_fit_on_the_scale() -> None:
    picture = picture_of_sample("lighthouse.stl", accept=2)
    bands = list(stacked(picture))
    for below, above in pairwise(bands):
        assert np.array_equal(above.low, below.high)
    assert np.allclose(bands[-1].high, sum(b.with_vents for b in picture.bands))
    assert area_ticks(largest_area(picture), 130)[-1] >= max(bands[-1].outline.max(), bands[-1].high.max())


def test_accepting_vents_does_not_change_the_scale() -> None:
    without, vented = (picture_of_sample("lighthouse.stl", accept=n) for n in (0, 3))
    assert largest_area(without) == pytest.approx(largest_area(vented))


@given(st.floats(0.001, 1e6), st.floats(60, 400))
def test_area_ticks_are_round_reach_the_largest_and_stand_apart(largest: float, room: float) -> None:
    ticks = area_ticks(largest, room)
    step = ticks[1]
    assert ticks[-1] >= largest * (1 - 1e-9)
    assert ticks[-2] < largest
    assert float(f"{step:.0e}") == pytest.approx(step)
    assert step / largest * room >= 36.0 * (1 - 1e-6)


@pytest.mark.parametrize("hanging", [False, True])
def test_by_itself_the_chart_shows_the_whole_height_with_the_plate(hanging: bool) -> None:
    mapping = own_mapping(block(), 500, hanging, (72, 64))
    ends = sorted((mapping.row(-5.0), mapping.row(20.0)))
    assert ends == pytest.approx([72.0, 436.0])
    assert (mapping.row(-5.0) < mapping.row(20.0)) == hanging
    assert not mapping.linked


def test_linked_to_the_view_it_takes_its_heights_exactly(chart: Chart) -> None:
    mapping = Mapping(30.0, -10.0, True, 500)
    chart.set_mapping(mapping)
    assert chart.mapping == mapping
    image = image_of(chart)
    assert is_bluish(image, AXIS_PX + 30, mapping.row(16.5))
    assert not is_bluish(image, AXIS_PX + 30, mapping.row(17.5))


def test_the_handle_follows_the_pointer_and_beyond_the_top_means_the_whole_part(chart: Chart, qtbot: QtBot) -> None:
    said: list[float | None] = []
    chart.printed_dragged.connect(said.append)
    at = QPoint(185, round(chart.handle_row))
    QTest.mousePress(chart, LEFT, pos=at)
    for height in (15.0, 8.0, -3.0):
        QTest.mouseMove(chart, QPoint(185, round(chart.mapping.row(height))))
        qtbot.wait(5)
    QTest.mouseRelease(chart, LEFT, pos=QPoint(185, round(chart.mapping.row(-3.0))))
    assert said[-1] == 0.0
    assert any(h == pytest.approx(8.0, abs=0.1) for h in said)
    QTest.mouseDClick(chart, LEFT, pos=QPoint(185, round(chart.handle_row)))
    assert said[-1] is None


def test_keys_move_the_handle_up_and_down_on_the_screen(chart: Chart) -> None:
    chart.setFocus()
    QTest.keyClick(chart, Qt.Key.Key_Down)
    assert chart.printed == pytest.approx(19.0)
    QTest.keyClick(chart, Qt.Key.Key_PageDown)
    assert chart.printed == pytest.approx(9.0)
    QTest.keyClick(chart, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert chart.printed == pytest.approx(9.1)
    QTest.keyClick(chart, Qt.Key.Key_End)
    assert chart.printed == 0.0
    QTest.keyClick(chart, Qt.Key.Key_Home)
    assert chart.printed is None
    chart.set_hanging(True)
    QTest.keyClick(chart, Qt.Key.Key_Up)
    assert chart.printed == pytest.approx(19.0)


def test_a_click_on_a_band_names_its_cavity_and_beside_it_nothing(chart: Chart, qtbot: QtBot) -> None:
    row = round(chart.mapping.row(10.0))
    for x, word in ((AXIS_PX + 20, "cavity A"), (195, "")):
        with qtbot.waitSignal(chart.clicked) as said:
            QTest.mouseClick(chart, LEFT, pos=QPoint(x, row))
        assert said.args == [word]


def test_it_says_in_words_what_is_sealed_at_the_handle(chart: Chart) -> None:
    assert chart.accessibleDescription() == "whole part"
    chart.set_printed(10.0)
    assert chart.accessibleDescription() == "printed to 10.0 mm; sealed: A 196 mm²"
    chart.set_printed(19.0)
    assert chart.accessibleDescription() == "printed to 19.0 mm; nothing is sealed here"


def test_the_material_of_a_hollowed_part_is_filled_as_it_is_and_dashed_as_it_was(chart: Chart) -> None:
    before, after = np.full(81, 400.0), np.full(81, 100.0)
    heights = np.linspace(0.0, 40.0, 81)
    chart.set_quantity("section")
    chart.set_printed(10.0)
    assert "of a part that was hollowed" in chart.accessibleDescription()
    chart.grab()  # says so
    chart.show_picture(replace(block(), sections=ShownSections(heights, (Band("part", -1, before, after),))))
    chart.set_printed(10.0)
    assert chart.accessibleDescription().endswith("material: 400 mm² before it was hollowed, 100 mm² now")
    chart.set_printed(None)
    drawn, image = chart._drawn(), image_of(chart)
    assert drawn.ticks[-1] == 400.0
    row = round(drawn.mapping.row(8.0))
    paper, filled, empty = (
        colour.lightness()
        for colour in (QColor(drawn.colours.paper), *(image.pixelColor(round(drawn.column(x)), row) for x in (50, 250)))
    )
    assert abs(filled - paper) > abs(empty - paper) + 20
    clicked: list[str] = []
    chart.clicked.connect(clicked.append)
    QTest.mouseClick(chart, Qt.MouseButton.LeftButton, pos=QPoint(round(drawn.column(50.0)), row))
    assert clicked == [""]  # no cavity


def test_a_part_without_anything_sealed_and_no_part_can_be_drawn(chart: Chart) -> None:
    picture = block()
    chart.show_picture(replace(picture, bands=(), heights=np.zeros(0)))
    assert not image_of(chart).isNull()
    chart.show_picture(None)
    assert not image_of(chart).isNull()
    assert chart.accessibleDescription() == "No part is open."
