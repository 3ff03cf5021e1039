"""Other places for a vent in the window: by key, by button, by the list on the card; why not here; the slider."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hollow_parts import two_bells
from PySide6.QtCore import Qt
from PySide6.QtGui import QCursor
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.fake_session import press
from ui.view_bench import pixel

from ventplanner.geometry.pose import Pose
from ventplanner.io.meshes import write
from ventplanner.options import Weights
from ventplanner.parameters import Direction
from ventplanner.ui.dialogs.settings import SettingsDialog, SliderEntry
from ventplanner.ui.panels.vent_card import ProposalCard, VentCard
from ventplanner.ui.window import MainWindow
from ventplanner.ui.words import looked_from

LEFT = Qt.MouseButton.LeftButton
Key = Qt.Key
Open = Callable[[Path | str], MainWindow]


@pytest.fixture(name="window")
def window_(opened: Open, tmp_path: Path, qtbot: QtBot) -> MainWindow:
    path = tmp_path / "two bells.stl"
    write(two_bells(), path)
    window = opened(path)
    assert window.stage.view is not None
    window.stage.view.look("front")
    settled(window, qtbot)
    return window


def settled(window: MainWindow, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: not window.session.is_looking and looked_at(window), timeout=LONG_MS)


def test_the_key_walks_and_the_card_lists_where_it_was_and_where_it_could_be(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session
    was = session.proposals[-1]
    session.select(f"proposal {was.id}")
    assert isinstance(window.card.card, ProposalCard)
    press(window, Key.Key_J)
    qtbot.waitUntil(lambda: len(session.plan.vents) == 1, timeout=LONG_MS)
    settled(window, qtbot)
    card = window.card.card
    assert isinstance(card, VentCard)
    assert len(card.places.choices) >= 2
    assert [c.isEnabled() for c in card.places.choices].count(False) == 1
    assert "here now" in card.places.choices[1].text()
    told = " ".join(text.text() for text in card.places.findChildren(QLabel))
    assert "of the views" in told
    assert "mm of wall" in told
    press(window, Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    assert session.is_kept(session.selected)
    QTest.mouseClick(card.places.choices[0], LEFT)
    qtbot.waitUntil(lambda: session.plan.vents[0].entry_mm == was.entry_mm, timeout=LONG_MS)
    settled(window, qtbot)
    qtbot.waitUntil(card.places.both.isVisible, timeout=LONG_MS)
    told = " ".join(text.text() for text in card.places.both.findChildren(QLabel))
    assert "Kept: place 1. Now: where it was." in told
    assert "Left, standing" in told
    press(window, Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not card.places.both.isVisible(), timeout=LONG_MS)
    QTest.mouseClick(card.places.choices[1], LEFT)
    qtbot.waitUntil(lambda: session.plan.vents[0].entry_mm != was.entry_mm, timeout=LONG_MS)
    settled(window, qtbot)
    first = session.plan.vents[0].entry_mm
    QTest.mouseClick(card.places.choices[0], LEFT)
    qtbot.waitUntil(lambda: session.plan.vents[0].entry_mm == was.entry_mm, timeout=LONG_MS)
    settled(window, qtbot)
    card = window.card.card
    assert isinstance(card, VentCard)
    QTest.mouseClick(card.places.next, LEFT)
    qtbot.waitUntil(lambda: session.plan.vents[0].entry_mm == first, timeout=LONG_MS)
    settled(window, qtbot)
    while session.plan.vents:
        press(window, Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    settled(window, qtbot)
    assert was.id in [v.id for v in session.proposals]


def test_why_not_here_is_said_of_the_place_under_the_pointer(window: MainWindow, qtbot: QtBot) -> None:
    view, session = window.stage.view, window.session
    assert view is not None
    assert session.findings is not None
    said: list[str] = []
    session.said.connect(said.append)
    at = session.findings.scene.frame.to_build(np.array([-9.0, -10.0, -4.0]))
    QCursor.setPos(view.mapToGlobal(pixel(view, tuple(at))))
    QTest.mouseMove(view._sheet, pixel(view, tuple(at)))
    qtbot.waitUntil(view.underMouse, timeout=LONG_MS)
    press(window, Key.Key_V, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: bool(said), timeout=LONG_MS)
    assert "leads into c" in said[0]
    assert not session.plan.vents
    mark = window.stage.place_mark
    assert mark is not None
    assert mark.point is None
    session.why_not(session.findings.scene.frame.to_build(np.array([0.0, -10.0, -9.0])), np.array([0.0, -1.0, 0.0]))
    qtbot.waitUntil(lambda: mark.point is not None, timeout=LONG_MS)


def test_the_slider_and_the_field_of_the_preference_follow_each_other(window: MainWindow, qtbot: QtBot) -> None:
    window.dialogs.show_settings()
    dialog = next(w for w in QApplication.topLevelWidgets() if isinstance(w, SettingsDialog) and w.isVisible())
    entry = dialog.entries["prefer"]
    assert isinstance(entry, SliderEntry)
    assert entry.value() == 0.0
    entry.slider.setFocus()
    QTest.keyClick(entry.slider, Key.Key_PageUp)
    assert entry.value() == 0.25
    entry.field.setFocus()
    entry.field.selectAll()  # type: ignore[union-attr]
    QTest.keyClicks(entry.field, "0,8")
    assert entry.slider.value() == 16
    assert not dialog.folded.inner.isVisible()
    QTest.mouseClick(dialog.folded.head, LEFT)
    weight = dialog.folded.entries["seen"].field
    assert weight.isVisible()
    weight.selectAll()  # type: ignore[union-attr]
    QTest.keyClicks(weight, "12,5")
    seen = dialog.entries["seen_from"]
    QTest.keyClicks(seen.field, "0,-1,0")
    QTest.mouseClick(dialog.apply, LEFT)
    settled(window, qtbot)
    state = window.session.state
    assert state is not None
    assert (state.rules.prefer, state.rules.seen_from) == (0.8, (0.0, -1.0, 0.0))
    window.dialogs.show_settings()
    again = next(w for w in QApplication.topLevelWidgets() if isinstance(w, SettingsDialog) and w.isVisible())
    assert again.entries["seen_from"].text == "0,-1,0"
    assert state.rules.weights == Weights(seen=12.5)
    assert again.folded.inner.isVisible()  # one of them is not the usual one
    again.reject()


def test_vents_are_hidden_from_the_view_of_now_in_the_axes_of_the_file(window: MainWindow, qtbot: QtBot) -> None:
    session, view = window.session, window.stage.view
    assert view is not None
    session.set_pose(Pose((0.0, 1.0, 0.0)))
    settled(window, qtbot)
    view.look("front")
    towards = view.eye.axes[2]
    assert session.state is not None
    wanted = tuple(session.state.pose.rotation.T @ towards)
    press(window, Key.Key_J, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert session.state.rules.seen_from == pytest.approx(wanted, abs=1e-3)
    assert session.undo_name == "Look at the part from elsewhere"
    settled(window, qtbot)
    window.actions_by_name["seen_all_around"].trigger()
    assert session.state.rules.seen_from is None


@pytest.mark.parametrize(
    ("direction", "told"),
    [
        (None, "from all sides"),
        ((0.0, -1.0, 0.0), "from the front"),
        ((1.0, -1.0, 0.0), "from the front, 45° to the right"),
        ((-1.0, 0.2, 0.0), "from the left, 11° to the back"),
        ((0.0, 3.0, -3.0), "from the back, 45° below"),
        ((0.0, 0.0, 2.0), "from above"),
    ],
)
def test_where_a_part_is_looked_at_from_is_said_in_words(direction: Direction | None, told: str) -> None:
    assert looked_from(direction) == told
