"""The layers in the real window: opened, gone through, looked at, clicked, and as printed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hollow_parts import two_bells
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QSplitter
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.fake_session import press

from ventplanner.io.meshes import write
from ventplanner.profile import Profile
from ventplanner.ui.layer.panel import LayerPanel
from ventplanner.ui.layer.sheet import LayerSheet
from ventplanner.ui.panels.cavity_card import CavityCard
from ventplanner.ui.panels.vent_card import VentCard
from ventplanner.ui.window import MainWindow

LEFT, RIGHT, NONE = Qt.MouseButton.LeftButton, Qt.MouseButton.RightButton, Qt.KeyboardModifier.NoModifier
Key, SHIFT = Qt.Key, Qt.KeyboardModifier.ShiftModifier
COARSE = Profile("Coarse", pixel_mm=0.25, layer_height_mm=0.1)
CLOSING = replace(COARSE, name="Closing", blur_mm=0.5, exposure_ratio=60.0)
Open = Callable[[Path | str], MainWindow]


@pytest.fixture(name="window")
def window_(opened: Open, tmp_path: Path, qtbot: QtBot) -> Iterator[MainWindow]:
    path = tmp_path / "two bells.stl"
    write(two_bells(), path)
    window = opened(path)
    window.session.set_usual_profile(COARSE)
    yield window
    window.stage.show_layers(False)
    window.stage.layers.set_printed(False)
    window.stage.set_printed(None)


def shown(window: MainWindow, qtbot: QtBot) -> LayerPanel:
    """Wait for the layer that was asked for."""
    panel = window.stage.layers
    qtbot.waitUntil(
        lambda: looked_at(window) and panel.is_current and panel.sheet.layer is not None and bool(panel._shown),
        timeout=LONG_MS,
    )
    return panel


def wheel(sheet: LayerSheet, turned: int, keys: Qt.KeyboardModifier = NONE) -> None:
    place = QPointF(sheet.rect().center())
    QApplication.sendEvent(
        sheet,
        QWheelEvent(
            place,
            QPointF(sheet.mapToGlobal(place.toPoint())),
            QPoint(),
            QPoint(0, turned),
            Qt.MouseButton.NoButton,
            keys,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        ),
    )


def spot(sheet: LayerSheet, x: float, y: float) -> QPoint:
    column, row = sheet.plane.to_px(x, y)
    return QPoint(round(column), round(row))


def test_a_key_opens_the_layers_where_the_first_cup_starts_and_closes_them(window: MainWindow, qtbot: QtBot) -> None:
    assert not window.stage.has_layers
    press(window, Key.Key_Y)
    panel = shown(window, qtbot)
    assert panel.isVisible()
    assert window.actions_by_name["layers"].isChecked()
    assert panel.sheet.layer is not None
    assert panel.sheet.layer.source == "columns"
    assert "columns of the analysis" in panel.note.text()
    assert panel.sheet.layer.z == pytest.approx(3.0, abs=0.1)
    assert window.stage.chart is not None
    assert window.stage.chart.printed == pytest.approx(3.0)
    assert any(text.startswith("sealed void 14") for text in panel.legend.entries)
    press(window, Key.Key_Y)
    assert not panel.isVisible()
    assert window.stage.chart.printed is None  # it was whole before


def test_layers_follow_the_handle_of_the_chart_and_move_it(window: MainWindow, qtbot: QtBot) -> None:
    press(window, Key.Key_Y)
    panel, chart, view = shown(window, qtbot), window.stage.chart, window.stage.view
    assert chart is not None
    assert view is not None
    chart._show_and_tell(8.0)
    assert (panel.at, panel.number.text(), panel.slider.value()) == (79, "80", 79)
    panel.sheet.setFocus()
    QTest.keyClick(panel.sheet, Key.Key_PageUp)
    assert panel.at == 80
    assert chart.printed == view.shown.printed == pytest.approx(8.1)
    QTest.keyClick(panel.sheet, Key.Key_PageDown, SHIFT)
    assert panel.at == 70
    wheel(panel.sheet, 120, SHIFT)
    assert panel.at == 71
    press(window, Key.Key_Period)
    press(window, Key.Key_Comma)
    assert panel.at == 71
    panel.slider.setValue(30)
    assert chart.printed == pytest.approx(3.1)
    panel.number.setFocus()
    panel.number.selectAll()
    QTest.keyClicks(panel.number, "150")
    QTest.keyClick(panel.number, Key.Key_Return)
    assert panel.at == 149
    assert chart.printed == pytest.approx(15.0)
    panel.number.selectAll()
    QTest.keyClicks(panel.number, "4000")
    QTest.keyClick(panel.number, Key.Key_Return)
    assert panel.number.property("wrong")
    assert panel.at == 149
    QTest.keyClick(panel.sheet, Key.Key_End)
    assert panel.at == panel.count - 1 == 199
    QTest.keyClick(panel.sheet, Key.Key_Home)
    assert panel.at == 0
    layer = shown(window, qtbot).sheet.layer
    assert layer is not None
    assert layer.z == pytest.approx(0.05)


def test_a_click_on_a_void_selects_its_cavity_and_on_a_drill_the_vent(window: MainWindow, qtbot: QtBot) -> None:
    press(window, Key.Key_Y)
    window.stage.set_printed(10.0)
    panel = shown(window, qtbot)
    sheet, session = panel.sheet, window.session
    QTest.mouseMove(sheet, spot(sheet, 11.0, 3.0))
    qtbot.waitUntil(lambda: sheet.toolTip() == "sealed void, cavity B")
    QTest.mouseClick(sheet, LEFT, NONE, spot(sheet, 11.0, 3.0))
    assert session.selected == "cavity B"
    QTest.mouseClick(sheet, LEFT, NONE, spot(sheet, -7.0, -3.0))
    assert session.selected == "cavity A"
    assert isinstance(window.card.card, CavityCard)
    QTest.mouseClick(sheet, LEFT, NONE, spot(sheet, 0.0, 0.0))  # material
    assert session.selected == ""
    proposal = session.proposals[0]
    session.select(f"proposal {proposal.id}")
    press(window, Key.Key_Y)
    window.stage.set_printed(None)
    press(window, Key.Key_Y)  # opens at the selected one
    panel = shown(window, qtbot)
    (cut,) = [c for c in panel.sheet.cuts if c.vent.id == proposal.id]
    session.select("")
    middle = cut.outline.mean(axis=0)
    QTest.mouseClick(sheet, LEFT, NONE, spot(sheet, float(middle[0]), float(middle[1])))
    assert session.selected == f"proposal {proposal.id}"


def test_it_is_moved_and_enlarged_as_the_view_is(window: MainWindow, qtbot: QtBot) -> None:
    press(window, Key.Key_Y)
    sheet = shown(window, qtbot).sheet
    before, middle = sheet.plane, sheet.rect().center()
    wheel(sheet, 120)
    assert sheet.plane.mm_per_px < before.mm_per_px
    assert not sheet.is_fitted
    enlarged = sheet.plane
    QTest.mousePress(sheet, RIGHT, NONE, middle)
    QTest.mouseMove(sheet, middle + QPoint(10, 0))
    QTest.mouseMove(sheet, middle + QPoint(40, 15))
    QTest.mouseRelease(sheet, RIGHT, NONE, middle + QPoint(40, 15))
    assert sheet.plane.x < enlarged.x
    assert sheet.plane.y > enlarged.y
    assert window.session.selected == ""
    QTest.keyClick(sheet, Key.Key_Plus)
    QTest.keyClick(sheet, Key.Key_Left)
    QTest.keyClick(sheet, Key.Key_0)
    assert sheet.is_fitted
    assert sheet.plane.mm_per_px == pytest.approx(before.mm_per_px)
    QTest.mouseDClick(sheet, LEFT, NONE, spot(sheet, -9.0, 0.0))  # cavity A, as large as it goes
    assert sheet.plane.mm_per_px < before.mm_per_px
    press(window, Key.Key_Y, SHIFT)
    assert sheet.is_fitted


def test_as_printed_is_worked_out_when_it_is_chosen_and_stands_beside_the_model(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.session.accept(window.session.proposals[0].id)
    press(window, Key.Key_Y)
    panel = shown(window, qtbot)
    assert panel.check.isVisible()
    press(window, Key.Key_A)
    assert window.actions_by_name["layers_printed"].isChecked()
    assert panel.sheet.layer is not None
    assert panel.sheet.layer.source == "columns"  # never empty
    assert "is being worked out" in panel.note.text()
    qtbot.waitUntil(lambda: window.session.printed is not None, timeout=LONG_MS)
    layer = shown(window, qtbot).sheet.layer
    assert layer is not None
    assert layer.source == "printed"
    assert "estimate" in panel.note.text()
    assert "Coarse" in panel.note.text()
    assert any("cured by accident" in text for text in panel.legend.entries)
    press(window, Key.Key_A)
    layer = shown(window, qtbot).sheet.layer
    assert layer is not None
    assert layer.source == "pixels"
    assert not any("cured by accident" in text for text in panel.legend.entries)
    described = panel.sheet.accessibleDescription()
    assert described.startswith("Layer ")
    assert "printer's pixels" in described


def test_the_cards_tell_what_prints_and_one_click_takes_the_size_that_prints_open(
    window: MainWindow, qtbot: QtBot
) -> None:
    session = window.session
    session.set_profile(CLOSING)
    name = session.proposals[0].id
    session.accept(name)
    session.select(f"vent {name}")
    card = window.card.card
    assert isinstance(card, VentCard)
    assert "has not been checked" in card.printed.told.text()
    QTest.mouseClick(card.printed.check, LEFT)
    assert session.is_printed_awaited
    qtbot.waitUntil(lambda: session.way_out(session.plan.vents[0]) is not None, timeout=LONG_MS)
    qtbot.waitUntil(card.printed.take.isVisible, timeout=LONG_MS)  # it is known a moment before it is told
    assert card.printed.told.text().startswith("Prints closed")
    assert card.printed.told.property("role") == "bad"
    assert "Closing" in card.printed.note.text()
    assert card.printed.take.isVisible()
    assert card.printed.take_wider.isVisible()
    assert any("would print closed" in text for text in window.todo.sentences)
    assert "as printed (estimate), A does not breathe" in window.verdict.sentence
    QTest.mouseClick(card.printed.take, LEFT)
    way = session.way_out(session.plan.vents[0])
    qtbot.waitUntil(lambda: session.plan.vents[0].diameter_mm > 2.5, timeout=LONG_MS)
    assert way is not None
    assert session.plan.vents[0].diameter_mm == way.opens_mm
    assert "has not been checked" in card.printed.told.text()
    session.check_printed()
    qtbot.waitUntil(lambda: session.printed is not None, timeout=LONG_MS)
    assert card.printed.told.text().startswith("Prints ")
    assert not card.printed.told.text().startswith("Prints closed")
    assert "as printed" not in window.verdict.sentence
    session.select(f"cavity {session.plan.vents[0].cavity}")
    cavity = window.card.card
    assert isinstance(cavity, CavityCard)
    texts = [label.text() for label in cavity.printed.figures.findChildren(type(cavity.printed.told))]
    assert any(text.startswith("model: ") and "; as printed: " in text for text in texts)


def test_the_layers_stand_beside_the_view_in_a_wide_window_and_below_it_else(window: MainWindow, qtbot: QtBot) -> None:
    press(window, Key.Key_Y)
    panel = shown(window, qtbot)
    split = window.stage.findChild(QSplitter)
    assert split is not None
    try:
        window.resize(1600, 1000)
        qtbot.waitUntil(lambda: split.orientation() == Qt.Orientation.Horizontal)
        window.resize(1000, 700)
        qtbot.waitUntil(lambda: split.orientation() == Qt.Orientation.Vertical)
        assert panel.sheet.height() > 120
        assert panel.printed.isVisible()
    finally:
        window.resize(1280, 800)
