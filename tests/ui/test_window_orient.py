"""In a real window: orientations are looked for, looked at on the map and in the list, and one of them is used."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hollow_parts import two_bells
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at

from ventplanner.geometry.pose import Pose
from ventplanner.io.meshes import write
from ventplanner.options import AnalysisOptions
from ventplanner.ui.orient.card import OrientCard
from ventplanner.ui.panels.drain_card import DrainCard
from ventplanner.ui.panels.part_card import PartCard
from ventplanner.ui.window import MainWindow

Opened = Callable[[Path | str], MainWindow]


def is_seen_as(window: MainWindow, pose: Pose) -> bool:
    """Whether up in the view is away from the plate of a pose; the part stands."""
    view, findings = window.stage.view, window.session.findings
    assert view is not None
    assert findings is not None
    away = -findings.scene.frame.direction_to_build(np.array(pose.to_plate))
    return float(view.eye.axes[1] @ away) > 0.999


def look_at_the_map(window: MainWindow, card: OrientCard) -> None:
    """A click looks at a direction, coarsely, and the view holds the part so; an arrow key goes on from there."""
    mode, view = window.orienting, window.stage.view
    assert view is not None
    QApplication.processEvents()
    QTest.mouseClick(card.map, Qt.MouseButton.LeftButton, pos=card.map.place_of((0.7, 0.0, -0.714)).toPoint())
    looked = mode.looked
    assert looked is not None
    assert looked.pose.to_plate[0] > 0.4
    assert is_seen_as(window, looked.pose)
    assert view.shown.posed == "Not turned yet"
    assert view.shown.laid is not None  # the plate, 5 mm below the part
    findings = window.session.findings
    assert findings is not None
    part, plate = (view.eye.to_screen(np.array(p)) for p in (findings.scene.vertices, view.shown.laid.corners))
    assert float(plate[0, 1] - part[:, 1].max()) * view.eye.mm_per_px == pytest.approx(5.0, abs=0.01)
    assert np.ptp(plate[:, 1]) == pytest.approx(0.0, abs=1e-6)  # edge on
    assert plate[0, 1] < view.height()
    assert card.use.isEnabled()
    card.map.setFocus()
    QTest.keyClick(card.map, Qt.Key.Key_Left)
    assert mode.looked is not None
    assert mode.looked.pose.to_plate[0] < looked.pose.to_plate[0]


def leave_it_as_it_hangs(window: MainWindow, qtbot: QtBot) -> None:
    """The card of something else and back, hanging, Escape, another card: the part stays as it is."""
    mode, view = window.orienting, window.stage.view
    assert view is not None
    before = view.eye
    window.actions_by_name["orient"].trigger()
    assert mode.now is not None  # what was found is known still
    mode.take(1)
    window.session.select("cavity A")  # the card of something else, and back
    assert not isinstance(window.card.card, OrientCard)
    QTest.keyClick(window, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: isinstance(window.card.card, OrientCard))
    window.set_hanging(True)
    window.actions_by_name["hanging"].trigger()
    looked = mode.looked
    assert looked is not None
    findings = window.session.findings
    assert findings is not None
    to_plate = findings.scene.frame.direction_to_build(np.array(looked.pose.to_plate))
    assert float(view.eye.axes[1] @ to_plate) > 0.999  # the plate is above
    window.actions_by_name["standing"].trigger()
    QTest.keyClick(window, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: not mode.is_on)
    assert isinstance(window.card.card, PartCard)
    assert (view.eye.stance, view.eye.elevation) == (None, before.elevation)
    assert (view.shown.posed, view.shown.laid) == ("", None)

    window.actions_by_name["orient"].trigger()
    window.actions_by_name["drain"].trigger()
    assert isinstance(window.card.card, DrainCard)
    assert not mode.is_on
    window.draining.end()
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)


def test_an_orientation_is_looked_at_and_used_only_when_that_is_said(
    opened: Opened, qtbot: QtBot, tmp_path: Path
) -> None:
    write(two_bells(), tmp_path / "bells.stl")
    window = opened(tmp_path / "bells.stl")
    session, mode, view = window.session, window.orienting, window.stage.view
    assert view is not None

    session.set_options(AnalysisOptions(pitch_mm=0.6))  # a third of the time
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    done = session.names

    QTest.keyClick(window, Qt.Key.Key_O, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: session.orientations is not None, timeout=LONG_MS)
    card = window.card.card
    assert isinstance(card, OrientCard)
    qtbot.waitUntil(lambda: len(card.entries) > 1)
    assert session.names == done  # nothing is chosen silently
    assert not card.use.isEnabled()
    assert {card.quantity.itemText(k) for k in range(card.quantity.count())} >= {"Vents", "Height"}

    look_at_the_map(window, card)

    # The list: worked out in full. Its button turns the part, as one step of undo.
    QTest.mouseClick(card.entries[1], Qt.MouseButton.LeftButton)
    looked = mode.looked
    assert looked is not None
    assert (looked.number, looked.coarse) == (1, False)
    assert card.entries[1].isChecked()
    assert "Vents, here:" in " ".join(w.accessibleName() for w in card.figures.children() if hasattr(w, "text"))
    assert session.state is not None
    assert session.state.pose == Pose()
    QTest.mouseClick(card.use, Qt.MouseButton.LeftButton)
    assert session.state.pose == looked.pose
    assert is_seen_as(window, looked.pose)  # from the click on, also while it is analysed
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    assert view.eye.stance is None
    assert is_seen_as(window, looked.pose)
    assert session.orientations is not None  # the map is still that of this part
    assert not card.use.isEnabled()
    session.undo()
    assert session.state.pose == Pose()
    assert session.undo_name == done[-1]
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    mode.end()
    leave_it_as_it_hangs(window, qtbot)
