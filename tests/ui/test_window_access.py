"""For everybody: names for screen readers, a focus that is seen, contrast, and dialogs that can be read."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QAccessible, QColor, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QDialog,
    QFileDialog,
    QHeaderView,
    QToolButton,
    QTreeView,
    QWidget,
)
from pytestqt.qtbot import QtBot
from ui.fake_session import press, type_into
from ui.pictures import SAMPLES

from ventplanner.ui import theme as look
from ventplanner.ui.dialogs.questions import Question
from ventplanner.ui.panels.tools import PosePopup
from ventplanner.ui.view import colours as drawn
from ventplanner.ui.view.colours import contrast, mixed
from ventplanner.ui.window import MainWindow

Open = Callable[[Path | str], MainWindow]
LEFT = Qt.MouseButton.LeftButton
TEXT, MARK = 4.5, 3.0
"""WCAG 2.2, 1.4.3 and 1.4.11."""


@pytest.fixture(autouse=True)
def _light(one_window: MainWindow) -> Iterator[None]:
    one_window.theme.choose("light")
    yield
    one_window.theme.choose("light")


def _spoken(widget: QWidget) -> str:
    """What a screen reader says of it first."""
    return QAccessible.queryAccessibleInterface(widget).text(QAccessible.Text.Name).strip()


def _nameless(top: QWidget) -> list[str]:
    """Widgets that take the focus and have no name."""
    found = []
    for widget in (top, *top.findChildren(QWidget)):
        takes_focus = widget.isVisible() and widget.focusPolicy() != Qt.FocusPolicy.NoFocus
        is_child = widget is top or widget.window() is top.window()
        if takes_focus and is_child and widget.metaObject().className() != "QMenuBar" and not _spoken(widget):
            found.append(f"{widget.metaObject().className()} in {widget.parentWidget()}")
    return found


def _dialog(window: MainWindow, kind: type[QDialog] = QDialog) -> QDialog:
    return next(d for d in window.findChildren(kind) if d.isVisible())


def test_everything_in_the_window_that_takes_the_focus_has_a_name(opened: Open) -> None:
    window = opened(SAMPLES / "lighthouse.stl")
    session = window.session
    session.accept(session.proposals[0].id)
    press(window, Qt.Key.Key_C)
    for word in ("", "cavity A", "cup A1", f"proposal {session.proposals[0].id}", f"vent {session.plan.vents[0].id}"):
        session.select(word)
        assert _nameless(window) == [], word
    press(window, Qt.Key.Key_C)
    assert window.stage.view is not None
    assert window.stage.chart is not None
    for widget in (window.stage.view, window.stage.chart, window.tree.findChild(QTreeView)):
        assert _spoken(widget)
    assert "4 cavities" in window.stage.view.accessibleDescription()


def test_the_welcome_page_has_names(real: MainWindow) -> None:
    assert _nameless(real) == []


def test_everything_in_the_dialogs_that_takes_the_focus_has_a_name(opened: Open) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    show = window.dialogs
    for each in (show.show_settings, show.show_preferences, show.show_history, show.show_search, show.show_keys,
                 show.show_about):  # fmt: skip
        each()
        dialog = _dialog(window)
        assert dialog.windowTitle()
        assert _nameless(dialog) == [], each
        dialog.reject()
    question = Question(window, "Save the work?", ["It is lost otherwise."] * 8, ["Save", "Stay"])
    question.show()
    assert _nameless(question) == []
    question.reject()
    question.deleteLater()
    window.stage.tools.show_popup()
    popup = window.stage.tools.popup
    assert popup is not None
    assert _nameless(popup) == []
    assert {_spoken(tool) for tool in popup.axes.values()} == {
        f"{side} to the plate" for side in ("Bottom", "Top", "Left", "Right", "Front", "Back")
    }
    popup.hide()


@pytest.mark.parametrize("c", [look.LIGHT, look.DARK], ids=["light", "dark"])
def test_texts_of_the_window_can_be_read_on_every_ground_they_stand_on(c: look.Colours) -> None:
    pairs = [
        *((text, ground) for text in (c.ink, c.muted) for ground in (c.paper, c.raised, c.hover, c.notice)),
        *((text, ground) for text in (c.good_text, c.bad_text) for ground in (c.paper, c.raised, c.hover, c.notice)),
        (c.ink, c.notice_line),  # a sentence under the pointer
        (c.ink, c.line),  # a pressed button
        (c.paper, c.ink),  # what is switched on, the primary button, tool tips, selected text
        (c.paper, c.muted),  # the primary button under the pointer
        (c.muted, c.hover),  # the primary button when it cannot be pressed
    ]
    for text, ground in pairs:
        assert look.contrast(QColor(text), QColor(ground)) >= TEXT, (text, ground)
    marks = [*((m, g) for m in (c.good, c.bad, c.edge) for g in (c.paper, c.raised)), (c.edge, c.ink), (c.ink, c.paper)]
    for mark, ground in marks:
        assert look.contrast(QColor(mark), QColor(ground)) >= MARK, (mark, ground)


@pytest.mark.parametrize("c", [drawn.LIGHT, drawn.DARK], ids=["light", "dark"])
def test_texts_of_the_view_and_the_chart_can_be_read(c: drawn.Colours) -> None:
    room = [c.paper, c.sky, c.ground, mixed(c.sky, c.ground, 0.5)]
    pairs = [
        *((text, ground) for text in (c.ink, c.muted) for ground in room),
        (c.pill_ink, c.pill), (c.chosen_ink, c.chosen), (c.ghost_ink, c.ghost), (c.paper, c.ink),
    ]  # fmt: skip
    for text, ground in pairs:
        assert contrast(text, ground) >= TEXT, (text, ground)


def _image(widget: QWidget) -> np.ndarray:
    image = widget.grab().toImage().convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    return rows[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(int)


def _most_contrast(widget: QWidget) -> float:
    """Contrast of the lightest and the darkest pixel."""
    pixels = _image(widget)[2:-2, 2:-2].reshape(-1, 3)
    grey = pixels.sum(axis=1)
    return look.contrast(QColor(*pixels[grey.argmin()].tolist()), QColor(*pixels[grey.argmax()].tolist()))


@pytest.mark.parametrize("choice", ["light", "dark"])
def test_the_file_dialog_can_be_read(real: MainWindow, choice: look.Choice) -> None:
    real.theme.choose(choice)
    seen: dict[str, float] = {}
    grounds: list[np.ndarray] = []

    def look_at_it() -> None:
        dialog = _dialog(real, QFileDialog)
        header = dialog.findChild(QHeaderView)
        grounds.append(np.median(_image(header).reshape(-1, 3), axis=0))
        seen["heading"] = _most_contrast(header)
        for name in ("toParentButton", "newFolderButton", "listModeButton", "detailModeButton"):
            tool = dialog.findChild(QToolButton, name)
            seen[name] = _most_contrast(tool)
            assert _spoken(tool)
        dialog.reject()

    QTimer.singleShot(600, look_at_it)
    real.files.ask_and_open()
    assert seen.pop("heading") >= TEXT
    assert all(value >= MARK for value in seen.values()), seen
    assert np.abs(grounds[0] - np.array(QColor(real.theme.colours.paper).getRgb()[:3])).max() <= 4


def test_the_focus_is_seen(opened: Open, qtbot: QtBot) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    press(window, Qt.Key.Key_C)
    bar = window.stage.cut_bar
    tools = [
        w for w in (*window.stage.tools.findChildren(QAbstractButton), *bar.findChildren(QWidget)) if w.isVisible()
    ]
    checked = 0
    for widget in [*tools, window.search, window.todo.export]:
        if widget.focusPolicy() == Qt.FocusPolicy.NoFocus or not widget.isEnabled():
            continue
        window.setFocus()
        before = _image(widget)
        widget.setFocus(Qt.FocusReason.TabFocusReason)
        qtbot.waitUntil(widget.hasFocus)
        assert np.abs(_image(widget) - before).max() > 60, widget.accessibleName()
        checked += 1
    assert checked >= 8
    press(window, Qt.Key.Key_C)


# The popup of the pose


def _popup(window: MainWindow) -> PosePopup:
    press(window, Qt.Key.Key_O)
    popup = window.stage.tools.popup
    assert popup is not None
    return popup


def test_the_popup_stays_open_while_sides_are_tried_and_follows_what_is_undone(opened: Open, qtbot: QtBot) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    popup = _popup(window)
    for axis, tool in popup.axes.items():
        QTest.mouseClick(tool, LEFT)
        assert popup.isVisible()
        assert [a for a, t in popup.axes.items() if t.isChecked()] == [axis]
        assert window.session.state is not None
        assert window.session.state.pose.to_plate == axis
    window.session.undo()
    assert popup.isVisible()
    assert [a for a, t in popup.axes.items() if t.isChecked()] == [(0.0, -1.0, 0.0)]
    assert popup.tilt.text() == "90°"
    assert popup.turn.text() == "270°"
    popup.hide()
    qtbot.waitUntil(lambda: window.session.job is None and window.session.is_settled, timeout=60_000)


def test_the_side_to_lean_to_may_be_typed_before_the_tilt(opened: Open) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    popup = _popup(window)
    type_into(popup.turn, "90")
    assert popup.turn.text() == "90°"
    type_into(popup.tilt, "30")
    assert window.session.state is not None
    assert window.session.state.pose.to_plate == pytest.approx((0.0, 0.5, -(3**0.5) / 2))
    type_into(popup.tilt, "190")
    assert popup.tilt.property("wrong")
    assert popup.isVisible()
    popup.hide()
    assert QApplication.activePopupWidget() is None
