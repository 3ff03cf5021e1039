"""What the desktop expects: files, closing, errors, light and dark, names, memory."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QColor, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QFileDialog, QWidget
from ui.fake_session import FakeSession

from ventplanner.errors import NotVerifiedError, ParameterError
from ventplanner.ui import theme as look
from ventplanner.ui.dialogs.questions import Question, told
from ventplanner.ui.settings import Settings
from ventplanner.ui.theme import Theme
from ventplanner.ui.window import MainWindow

Key = Qt.Key
LEFT = Qt.MouseButton.LeftButton


# Files


def test_samples_are_offered_and_opened(window: MainWindow) -> None:
    fake = window.session
    assert isinstance(fake, FakeSession)
    puffin = next(b for b in window.welcome.findChildren(QAbstractButton) if b.text() == "Puffin")
    QTest.mouseClick(puffin, LEFT)
    assert fake.calls[-1][0] == "open"
    assert fake.calls[-1][1].endswith("puffin.stl")
    assert window.settings.recent == ()


def test_a_file_can_be_dropped(window: MainWindow) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile("/parts/notes.txt"), QUrl.fromLocalFile("/parts/rope.3mf")])
    event = QDropEvent(QPointF(9, 9), Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier)
    window.dropEvent(event)
    fake = window.session
    assert isinstance(fake, FakeSession)
    assert fake.calls[-1] == ("open", "/parts/rope.3mf")


def test_export_lists_what_is_left_and_asks_once(
    window: MainWindow, session: FakeSession, answers: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def name(_parent: QWidget, _title: str, proposed: str, filters: str) -> tuple[str, str]:
        asked.append(proposed)
        return "/parts/out", filters.split(";;", maxsplit=1)[0]

    monkeypatch.setattr(QFileDialog, "getSaveFileName", name)
    session.accept("1")
    said = answers("Go on working", "Export all the same")
    QTest.mouseClick(window.todo.export, LEFT)
    assert asked == []
    QTest.mouseClick(window.todo.export, LEFT)
    assert asked == ["/parts/bell-buoy-vented.stl"]
    assert "3 things are left to do" in said.asked[0]
    assert "B is sealed" in said.asked[0]
    assert session.calls[-1] == ("export", "/parts/out.stl", False)


def test_what_is_left_is_not_asked_about_before_it_is_known(
    window: MainWindow, session: FakeSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: asked.append("name") or ("", ""))
    said: list[str] = []
    session.said.connect(said.append)
    session.accept("1")
    session.stale = True
    window.files.export()
    assert (asked, len(said)) == ([], 1)
    assert "not known yet" in said[0]
    assert not any(call[0] == "export" for call in session.calls)


def test_closing_with_unsaved_work_asks_and_staying_stays(
    window: MainWindow, session: FakeSession, answers: Callable[..., Any]
) -> None:
    session.accept("1")
    said = answers("Stay")
    window.close()
    assert window.isVisible()
    assert said.asked[0].startswith("Save the work on bell-buoy.stl?")
    assert ("shutdown", False) not in session.calls


def test_closing_saves_first_and_then_closes(
    window: MainWindow, session: FakeSession, answers: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: ("/parts/work", ""))
    session.accept("1")
    answers("Save")
    window.close()
    assert ("save", "/parts/work.ventplan") in session.calls
    assert not window.isVisible()
    assert session.calls[-1] == ("shutdown", False)


def test_closing_without_changes_does_not_ask(window: MainWindow, session: FakeSession) -> None:
    window.close()
    assert not window.isVisible()


def test_the_title_tells_of_unsaved_work(window: MainWindow, session: FakeSession) -> None:
    assert not window.isWindowModified()
    session.accept("1")
    assert window.isWindowModified()
    assert window.windowTitle().startswith("bell-buoy.stl[*]")


# Errors


def test_an_error_tells_the_cause_and_the_way_out_without_options_of_the_command_line() -> None:
    title, texts = told(ParameterError("Too fine.", "Give 0.2 mm or more (--pitch)."), "The part was not analysed")
    assert title == "The part was not analysed"
    assert texts == ["Too fine.", "Give 0.2 mm or more."]


def test_every_difference_of_a_file_that_is_not_verified_is_told() -> None:
    _, texts = told(NotVerifiedError(("vent 1 removed too much", "two edges are open")), "out.stl")
    assert texts == ["Vent 1 removed too much.", "Two edges are open.", "Nothing was written."]


def test_an_unforeseen_error_is_shown_once_and_can_be_copied(window: MainWindow) -> None:
    error = RuntimeError("a gull flew through")
    window.show_unforeseen(error)
    window.show_unforeseen(error)
    shown = [w for w in window.findChildren(Question) if w.isVisible()]
    assert len(shown) == 1
    copy = next(b for b in shown[0].findChildren(QAbstractButton) if b.text() == "Copy details")
    QTest.mouseClick(copy, LEFT)
    assert "a gull flew through" in QApplication.clipboard().text()
    shown[0].reject()


# The look


@pytest.mark.parametrize("colours", [look.LIGHT, look.DARK], ids=["light", "dark"])
def test_text_and_marks_have_enough_contrast(colours: look.Colours) -> None:
    for ground in (colours.paper, colours.raised, colours.hover, colours.notice):
        for text in (colours.ink, colours.muted, colours.good_text, colours.bad_text):
            assert look.contrast(QColor(text), QColor(ground)) >= 4.5, (text, ground)
    for ground in (colours.paper, colours.raised):
        for mark in (colours.good, colours.bad, colours.edge):
            assert look.contrast(QColor(mark), QColor(ground)) >= 3.0, (mark, ground)


def test_everything_that_takes_keys_has_a_name(window: MainWindow, session: FakeSession) -> None:
    for selected in ("", "cavity A", "cup A1", "proposal 1"):
        session.select(selected)
        nameless = [
            w
            for w in window.findChildren(QWidget)
            if w.isVisible() and w.focusPolicy() & Qt.FocusPolicy.TabFocus and not _name(w)
        ]
        assert nameless == []


def _name(widget: QWidget) -> str:
    own = widget.accessibleName()
    if not own and isinstance(widget, QAbstractButton):
        own = widget.text() or (widget.defaultAction().text() if hasattr(widget, "defaultAction") else "")
    return own or ("menu" if widget.metaObject().className() == "QMenuBar" else "")


def test_dark_and_light_can_be_chosen_and_are_kept(window: MainWindow, session: FakeSession) -> None:
    window.actions_by_name["theme_dark"].trigger()
    assert QApplication.palette().window().color() == QColor(look.DARK.paper)
    assert Settings(window.settings.path).get("theme", "") == "dark"
    window.actions_by_name["theme_light"].trigger()
    assert QApplication.palette().window().color() == QColor(look.LIGHT.paper)


def test_size_and_way_of_showing_are_remembered(window: MainWindow, theme: Theme, session: FakeSession) -> None:
    window.resize(1111, 777)
    window.set_hanging(True)
    window.close()
    again = MainWindow(FakeSession(), Settings(window.settings.path), theme)  # type: ignore[arg-type]
    assert (again.width(), again.height(), again.stage.hanging) == (1111, 777, True)
    again.set_hanging(False)
    again.leave_at_once()
    again.deleteLater()
