"""In the real window: places that a look inside found are shown by a click; supports come and go by menu and button."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from bodies import ball, block, box, inward, rod, solid
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QPushButton
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at

from ventplanner.io.meshes import write
from ventplanner.ui.panels.part_card import PartCard
from ventplanner.ui.window import MainWindow

Opened = Callable[[Path | str], MainWindow]


@pytest.fixture
def rattle(tmp_path: Path) -> Path:
    """A hollow box of 30 mm with a loose ball of 8 mm in it."""
    path = tmp_path / "rattle.stl"
    write(solid(box(30.0), inward(box(24.0)), ball(4.0, (0, 0, 2))), path)
    return path


def lines(window: MainWindow, start: str) -> list[QPushButton]:
    card = window.card.card
    assert isinstance(card, PartCard)
    return [b for b in card.findChildren(QPushButton) if b.isVisible() and b.accessibleName().startswith(start)]


def press(button: QPushButton) -> None:
    QTest.mouseClick(button, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, button.rect().center())


def looked_inside(window: MainWindow) -> bool:
    return looked_at(window) and window.session.inside is not None


def test_a_click_on_a_line_shows_its_place_in_the_view(opened: Opened, rattle: Path, qtbot: QtBot) -> None:
    window = opened(rattle)
    qtbot.waitUntil(lambda: looked_inside(window), timeout=LONG_MS)
    assert window.todo.remarks[-1:] == ("Look inside: 1 piece is held by nothing.",)
    qtbot.waitUntil(lambda: bool(lines(window, "Starts in mid-air")))  # the panel follows a moment later
    (line,) = lines(window, "Starts in mid-air")
    assert line.text() == "from 13.0 mm in A, loose, 268 mm³"
    press(line)
    mark = window.stage.place_mark
    assert mark.isVisible()
    assert mark.point is not None
    assert np.abs(mark.point - [0.0, 0.0, 13.0]).max() < 0.3
    ceiling, under_the_ball = lines(window, "Ceilings")
    assert (ceiling.text(), under_the_ball.text()[:7]) == ("A, 27.0 mm, 576 mm²", "A, 13.0")
    ceiling.setFocus()
    QTest.keyClick(ceiling, Qt.Key.Key_Space)
    assert mark.point[2] == pytest.approx(27.0)


def test_supports_are_loaded_by_the_menu_and_removed_by_the_card(
    opened: Opened, rattle: Path, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = opened(rattle)
    path = tmp_path / "struts.stl"
    struts = [rod((x, y, -20.0), (x, y, -15.0), 0.4) for x in range(-12, 13, 4) for y in range(-12, 13, 4)]
    write(solid(block((-15, -15, -20.4), (15, 15, -19.8)), *struts), path)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    window.actions_by_name["load_supports"].trigger()
    qtbot.waitUntil(lambda: window.session.undo_name == "Load supports struts.stl", timeout=LONG_MS)
    qtbot.waitUntil(lambda: looked_inside(window), timeout=LONG_MS)
    picture = window.session.picture
    assert picture is not None
    assert picture.supports is not None
    card = window.card.card
    assert isinstance(card, PartCard)
    (remove,) = lines(window, "Remove the supports")
    press(remove)
    qtbot.waitUntil(lambda: window.session.undo_name == "Remove the supports", timeout=LONG_MS)
    qtbot.waitUntil(lambda: looked_inside(window), timeout=LONG_MS)
    assert not remove.isVisible()
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: looked_inside(window), timeout=LONG_MS)
    assert window.session.state is not None
    assert window.session.state.supports is not None
