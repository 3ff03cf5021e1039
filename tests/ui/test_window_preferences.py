"""Mouse, units and colours: chosen once, in effect at once, kept for the next start."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QLineEdit, QPushButton, QWidget
from pytestqt.qtbot import QtBot
from ui.fake_session import press
from ui.pictures import SAMPLES
from ui.view_bench import drag, wheel

from ventplanner.plan.model import Vent
from ventplanner.ui import chart_painting, units
from ventplanner.ui.dialogs.pages import History
from ventplanner.ui.dialogs.preferences import PreferencesDialog
from ventplanner.ui.dialogs.settings import SettingsDialog
from ventplanner.ui.panels.fields import NumberField
from ventplanner.ui.panels.rows import rows
from ventplanner.ui.preferences import Preferences
from ventplanner.ui.settings import Settings
from ventplanner.ui.view.draw_room import film_text, plate_text
from ventplanner.ui.view.sheet import Sheet
from ventplanner.ui.view.view import View
from ventplanner.ui.window import MainWindow

Open = Callable[[Path | str], MainWindow]
LEFT, MIDDLE, RIGHT = (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton, Qt.MouseButton.RightButton)
MM = re.compile(r"\d (mm|mL)(?![\w/])|mm[²³23]")
"""Speeds of a printer are set in mm/min whatever the unit of lengths."""

RESIN = re.compile(r"Resin: [\d.]+ mL|^[\d.]+ mL$|[\d.]+ mL of resin")
"""Resin is sold and poured by the millilitre, in inches, too."""


@pytest.fixture(autouse=True)
def _as_before(one_window: MainWindow) -> Iterator[None]:
    yield
    one_window.prefer(Preferences())


def _dialog(window: MainWindow) -> PreferencesDialog:
    press(window, Qt.Key.Key_M, Qt.KeyboardModifier.ControlModifier)
    return next(d for d in window.findChildren(PreferencesDialog) if d.isVisible())


def _view(window: MainWindow) -> View:
    assert window.stage.view is not None
    return window.stage.view


def _texts(window: QWidget) -> list[str]:
    """All that can be read in the window, by eyes or by a screen reader."""
    out = []
    for child in window.findChildren(QWidget):
        if child.isVisible():
            out += [child.accessibleName(), child.accessibleDescription(), child.toolTip()]
            if isinstance(child, QLabel | QPushButton | QLineEdit):
                out.append(child.text())
    return [text for text in out if text]


def test_in_inches_nothing_in_the_window_speaks_of_millimetres(opened: Open, qtbot: QtBot) -> None:
    window = opened(SAMPLES / "lighthouse.stl")
    session = window.session
    session.accept(session.proposals[0].id)
    qtbot.waitUntil(lambda: session.is_settled and session.job is None, timeout=60_000)
    dialog = _dialog(window)
    dialog.unit.setCurrentText("Inches")
    dialog.accept()
    for word in ("", "cavity A", "vent 1", f"proposal {session.proposals[0].id}"):
        session.select(word)
        found = [text for text in _texts(window) if MM.search(RESIN.sub("", text))]
        assert found == [], word
        assert any(re.search(r"\d in[²³]?(?!\w)", text) for text in _texts(window))
    for row in rows(session):
        assert not MM.search(row.spoken)
        assert not any(MM.search(child.spoken) for child in row.children)
    view = _view(window)
    assert all(" in" in label.text for label in view.findChild(Sheet).labels if label.word.startswith("vent"))
    assert not MM.search(plate_text(view.shown) + film_text(view.shown))
    assert window.stage.chart is not None
    drawn = window.stage.chart._drawn()
    in_inches = [tick / 645.16 for tick in drawn.ticks]
    assert all(abs(tick * 1000 - round(tick * 1000)) < 1e-6 for tick in in_inches)
    window.stage.set_printed(25.4)
    assert chart_painting.handle_text(window.stage.chart._drawn()) == "printed to 1.000 in"
    assert "mm" not in window.stage.chart.accessibleDescription()


def test_a_vent_typed_in_inches_is_kept_in_millimetres(opened: Open, qtbot: QtBot) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    session = window.session
    name = session.proposals[0].id
    session.accept(name)
    window.prefer(Preferences(unit="inch"))
    session.select(f"vent {name}")
    field = next(f for f in window.card.findChildren(NumberField) if f.accessibleName() == "Diameter")
    assert field.text().endswith(" in")
    for typed, mm, shown in (("0.1", 2.54, "0.1 in"), ("2,5 mm", 2.5, "0.09843 in"), ("1/8", 3.175, "0.125 in")):
        field.setFocus()
        field.selectAll()
        QTest.keyClicks(field, typed)
        QTest.keyClick(field, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda mm=mm: abs(_vent(window, name).diameter_mm - mm) < 1e-12)  # type: ignore[misc]
        assert field.text() == shown
    QTest.keyClick(field, Qt.Key.Key_Up)
    assert field.text() == "0.13 in"
    qtbot.waitUntil(lambda: abs(_vent(window, name).diameter_mm - 0.13 * 25.4) < 1e-12)
    assert session_names(window)[-1] == f"Set diameter of vent {name} to 0.130 in"
    field.selectAll()
    QTest.keyClicks(field, "7")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert field.property("wrong")
    assert not MM.search(field.toolTip())


def _vent(window: MainWindow, name: str) -> Vent:
    return next(v for v in window.session.plan.vents if v.id == name)


def session_names(window: MainWindow) -> list[str]:
    window.dialogs.show_history()
    page = next(d for d in window.findChildren(History) if d.isVisible())
    names = [page.list.item(k).text() for k in range(page.list.count())]
    page.reject()
    return names


def test_the_form_of_options_speaks_inches_and_changes_nothing_by_being_looked_at(opened: Open) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    window.prefer(Preferences(unit="inch"))
    before, index = (window.session.state.options, window.session.state.rules), window.session.index  # type: ignore[union-attr]
    window.dialogs.show_settings()
    form = next(d for d in window.findChildren(SettingsDialog) if d.isVisible())
    assert [text for text in _texts(form) if MM.search(text)] == []
    assert form.entries["ignore_below_mm3"].text == "0.000305"
    form.accept()
    state = window.session.state
    assert state is not None
    assert (state.options, state.rules) == before
    assert window.session.index == index
    window.dialogs.show_settings()
    form = next(d for d in window.findChildren(SettingsDialog) if d.isVisible())
    field = form.entries["diameter_mm"].field
    assert isinstance(field, QLineEdit)
    field.setText("")
    QTest.keyClicks(field, "0,1")
    form.accept()
    assert window.session.state.rules.diameter_mm == pytest.approx(2.54)  # type: ignore[union-attr]


def test_the_button_that_turns_can_be_chosen_and_the_others_move(opened: Open, qtbot: QtBot) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    view = _view(window)
    sheet = view.findChild(Sheet)
    dialog = _dialog(window)
    for text, turning in (("Right button", RIGHT), ("Middle button", MIDDLE), ("Left button", LEFT)):
        dialog.turn.setCurrentText(text)
        for button in (LEFT, MIDDLE, RIGHT):
            view.look("front")
            before = view.eye
            drag(sheet, QPoint(60, 300), QPoint(90, 300), button, qtbot)
            assert (view.eye.azimuth != before.azimuth) == (button == turning)
            assert (view.eye.focus != before.focus) == (button != turning)
    dialog.accept()


def test_the_wheel_can_be_turned_round_in_view_and_chart(opened: Open) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    view, chart = _view(window), window.stage.chart
    assert chart is not None
    dialog = _dialog(window)
    for text, larger in (("Smaller", False), ("Larger", True)):
        dialog.wheel.setCurrentText(text)
        for widget in (view.findChild(Sheet), chart):
            before = view.eye.mm_per_px
            wheel(widget, QPointF(60, 200), 120)
            assert (view.eye.mm_per_px < before) == larger
    dialog.accept()


def test_what_was_chosen_is_there_at_the_next_start(opened: Open) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    dialog = _dialog(window)
    dialog.unit.setCurrentText("Inches")
    dialog.turn.setCurrentText("Right button")
    dialog.wheel.setCurrentText("Smaller")
    dialog.accept()
    assert Preferences.of(Settings(window.settings.path)) == Preferences("inch", "right", False)
    assert units.in_inches()


def test_settings_that_are_no_choice_are_as_usual(tmp_path: Path) -> None:
    settings = Settings(tmp_path / "settings.json")
    settings.set("unit", "ell")
    settings.set("turning button", 3)
    settings.set("wheel away makes smaller", "no")
    assert Preferences.of(settings) == Preferences()
