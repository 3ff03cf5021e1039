"""After Cancel and before closing: the focus is on no button by chance, and what would be lost is named."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from ui.fake_session import FakeSession, Job

from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton


def test_after_cancel_the_focus_is_on_no_other_button(window: MainWindow, session: FakeSession, qtbot: QtBot) -> None:
    session.job = Job("Analysing", 0.5, True)
    session.job_changed.emit()
    cancel = window.busy.cancel
    qtbot.waitUntil(cancel.isVisible)
    cancel.setFocus()
    QTest.mouseClick(cancel, LEFT)
    session.job = None
    session.job_changed.emit()
    QApplication.processEvents()
    assert not cancel.isVisible()
    assert QApplication.focusWidget() is window


def test_leaving_says_what_is_lost_since_the_last_save(
    window: MainWindow, session: FakeSession, answers: Callable[..., object]
) -> None:
    session.accept("1")
    session.is_unsaved = True
    asked = answers("Stay", "Stay")
    window.files.close_part()
    session.plan_path = "/parts/buoy.ventplan"
    window.files.close_part()
    first, second = asked.asked  # type: ignore[attr-defined]
    assert "What you decided about its vents is lost otherwise." in first
    assert "What you decided about its vents since it was last saved as buoy.ventplan is lost otherwise." in second
