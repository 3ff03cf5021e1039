"""The section in the window: the row of tools, the number, the keys, and what the commands say."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QToolButton
from pytestqt.qtbot import QtBot
from ui.fake_session import press
from ui.pictures import SAMPLES

from ventplanner.ui.view.view import View
from ventplanner.ui.window import MainWindow

LEFT, ALT = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.AltModifier
Open = Callable[[Path | str], MainWindow]


def _view(window: MainWindow) -> View:
    assert window.stage.view is not None
    return window.stage.view


def _tool(window: MainWindow, name: str) -> QToolButton:
    tools = window.stage.cut_bar.findChildren(QToolButton)
    return next(t for t in tools if t.defaultAction() is window.actions_by_name[name])


def test_cutting_open_shows_the_tools_of_the_section_and_closing_hides_them(opened: Open) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    bar = window.stage.cut_bar
    assert not bar.isVisible()
    press(window, Qt.Key.Key_C)
    assert bar.isVisible()
    assert window.actions_by_name["section"].isChecked()
    press(window, Qt.Key.Key_C)
    assert not bar.isVisible()
    assert _view(window).shown.section is None


def test_the_number_moves_the_plane_and_follows_it(opened: Open) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    view, bar = _view(window), window.stage.cut_bar
    press(window, Qt.Key.Key_3, ALT)
    assert _tool(window, "cut_top").isChecked()
    assert not _tool(window, "cut_front").isChecked()
    assert bar.field.value == pytest.approx(view.cutting.reach[1] / 2, abs=1e-3)
    bar.field.setFocus()
    bar.field.selectAll()
    QTest.keyClicks(bar.field, "12,5")
    QTest.keyClick(bar.field, Qt.Key.Key_Return)
    assert view.shown.section is not None
    assert view.shown.section.point[2] == pytest.approx(12.5)
    window.setFocus()
    press(window, Qt.Key.Key_Up, ALT)
    assert bar.field.text() == "13.5 mm"
    bar.field.setFocus()
    bar.field.selectAll()
    QTest.keyClicks(bar.field, "4000")
    QTest.keyClick(bar.field, Qt.Key.Key_Return)
    assert bar.field.property("wrong")
    assert view.cutting.position == pytest.approx(13.5)
    press(window, Qt.Key.Key_C)


def test_buttons_choose_the_direction_turn_it_over_and_put_it_through_the_selection(opened: Open) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    view = _view(window)
    press(window, Qt.Key.Key_C)
    QTest.mouseClick(_tool(window, "cut_right"), LEFT)
    assert view.shown.section is not None
    assert view.shown.section.normal == (1.0, 0.0, 0.0)
    QTest.mouseClick(_tool(window, "cut_flip"), LEFT)
    assert view.shown.section.normal == (-1.0, 0.0, 0.0)
    assert not window.actions_by_name["cut_through"].isEnabled()
    word = f"proposal {window.session.proposals[0].id}"
    window.session.select(word)
    assert window.actions_by_name["cut_through"].text().replace("&", "") == "Through " + word.replace(
        "proposal", "vent"
    )
    press(window, Qt.Key.Key_T)
    vent = next(v for v in view.shown.picture.vents if v.word == word)  # type: ignore[union-attr]
    assert np.allclose(view.shown.section.beyond(np.array([vent.start, vent.end])), 0.0, atol=1e-9)
    press(window, Qt.Key.Key_C)


def test_moving_the_plane_does_not_ask_every_command_anew(opened: Open, qtbot: QtBot) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    press(window, Qt.Key.Key_1, ALT)
    told: list[bool] = []
    window.stage.section_changed.connect(told.append)
    for k in range(5):
        _view(window).cutting.put_at(5.0 + k)
    assert told == []
    _view(window).cutting.face("top")
    assert told == [True]
    press(window, Qt.Key.Key_C)
    qtbot.wait(1)
    assert told == [True, False]
    assert not window.section_on


def test_fit_selection_is_offered_for_what_has_a_place(opened: Open) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    action = window.actions_by_name["fit_selection"]
    window.session.select("")
    assert not action.isEnabled()
    window.session.select("cavity A")
    whole = _view(window).eye.mm_per_px
    press(window, Qt.Key.Key_F, Qt.KeyboardModifier.ShiftModifier)
    assert _view(window).eye.mm_per_px < whole
