"""In a real window: the part drained move by move, with the liquid in it, and back to how it was."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hollow_parts import two_bells
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS

from ventplanner.io.meshes import write
from ventplanner.ui.panels.drain_card import DrainCard
from ventplanner.ui.panels.part_card import PartCard
from ventplanner.ui.window import MainWindow

Opened = Callable[[Path | str], MainWindow]


def liquid_pixels(window: MainWindow) -> int:
    """Pixels of the frame that are violet: more blue than red, and more red than green."""
    view = window.stage.view
    assert view is not None
    image = view.grab_image().convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    red, green, blue = rows[:, : 3 * image.width()].reshape(-1, 3).astype(int).T
    assert QColor(view.shown.colours.liquid).isValid()
    return int(((blue > red + 12) & (red > green + 12)).sum())


def take_what_helps(window: MainWindow, card: DrainCard, qtbot: QtBot) -> None:
    """Ask what would help two sealed cavities, take the first answer, and undo it."""
    qtbot.waitUntil(lambda: len(window.session.proposals) == 4, timeout=LONG_MS)
    for proposal in window.session.proposals:
        if proposal.cavity == "B":
            window.session.set_aside_proposal(proposal.id)
    # Their widths come a little later, and what would help is looked for anew then.
    qtbot.waitUntil(lambda: not window.session.is_sizing and window.session.job is None, timeout=LONG_MS)
    poured = window.session.poured
    qtbot.waitUntil(lambda: [each.text() for each in card.helps] == ["What would help?"], timeout=LONG_MS)
    card.helps[0].click()
    offers = {"Accept these 2 proposals", "Add these 2 vents"}
    qtbot.waitUntil(lambda: {each.text() for each in card.helps} == offers, timeout=LONG_MS)
    view = window.stage.view
    assert view is not None
    qtbot.waitUntil(lambda: [word for _, word in view.shown.hints] == ["helps B"] * 2, timeout=LONG_MS)
    card.helps[0].click()
    qtbot.waitUntil(lambda: len(window.session.plan.vents) == 2, timeout=LONG_MS)
    qtbot.waitUntil(lambda: window.session.poured not in (None, poured), timeout=LONG_MS)
    qtbot.waitUntil(lambda: view.shown.hints == (), timeout=LONG_MS)
    for _ in range(3):
        window.session.undo()


def hold_it_by_hand(window: MainWindow, card: DrainCard, qtbot: QtBot) -> None:
    """Turned until another side is down, held so, filled again, put on its plate side; then back to the moves."""
    view, session, mode = window.stage.view, window.session, window.draining
    assert view is not None
    for way, press in (
        ("like this", lambda: QTest.keyClick(window, Qt.Key.Key_D, Qt.KeyboardModifier.ShiftModifier)),
        ("full again", card.fill.click),
        ("standing", lambda: QTest.keyClick(window, Qt.Key.Key_S)),
    ):
        if way == "like this":
            view.turn_to(view.eye.orbited(25.0, 40.0))
        before, seen = session.held, view.eye.axes
        press()
        qtbot.waitUntil(lambda before=before: session.held not in (None, before), timeout=LONG_MS)
        held = session.held
        assert held is not None
        qtbot.waitUntil(lambda held=held: card.is_told(held), timeout=LONG_MS)
        if way != "standing":
            assert view.eye.axes == pytest.approx(seen, abs=1e-9)  # the picture is not turned
        assert float(view.eye.axes[1] @ np.asarray(held.step.rest.up)) > 0.95
    assert mode.is_by_hand
    mode.take(mode.at)
    assert not mode.is_by_hand
    qtbot.waitUntil(lambda: not view.is_busy and session.job is None, timeout=LONG_MS)


def test_a_part_is_drained_move_by_move_and_is_back_as_it_was(opened: Opened, qtbot: QtBot, tmp_path: Path) -> None:
    write(two_bells(), tmp_path / "bells.stl")
    window = opened(tmp_path / "bells.stl")
    view, mode = window.stage.view, window.draining
    assert view is not None
    before = view.eye

    QTest.keyClick(window, Qt.Key.Key_D)
    qtbot.waitUntil(lambda: mode.count > 0, timeout=LONG_MS)
    card = window.card.card
    assert isinstance(card, DrainCard)
    assert len(card.moves) == mode.count >= 2
    qtbot.waitUntil(lambda: not view.is_busy, timeout=LONG_MS)
    assert view.eye.hanging
    assert liquid_pixels(window) > 1500  # two sealed cavities, full

    QTest.keyClick(window, Qt.Key.Key_M)
    qtbot.waitUntil(lambda: mode.at == 1)
    poured = window.session.poured
    assert poured is not None
    up = np.asarray(poured.done.steps[1].rest.up)
    assert float(view.eye.axes[1] @ up) > 0.95  # gravity points down in the picture

    take_what_helps(window, card, qtbot)
    qtbot.waitUntil(lambda: len(window.session.proposals) == 4, timeout=LONG_MS)
    window.session.accept_all()
    qtbot.waitUntil(lambda: mode.count > 0 and window.session.poured is not poured, timeout=LONG_MS)
    mode.take(mode.count - 1)
    qtbot.waitUntil(lambda: not view.is_busy and window.session.job is None, timeout=LONG_MS)
    hold_it_by_hand(window, card, qtbot)
    texts = " ".join(label.text() for label in card.findChildren(QLabel))
    assert "Runs out" in texts
    assert "Rinse and cure" in texts
    assert liquid_pixels(window) < 1500

    window.session.select("cavity A")  # the card of something else, and back
    assert mode.is_on
    assert not isinstance(window.card.card, DrainCard)
    QTest.keyClick(window, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: isinstance(window.card.card, DrainCard))
    QTest.keyClick(window, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: not mode.is_on)
    assert isinstance(window.card.card, PartCard)
    assert view.eye == before
    qtbot.waitUntil(lambda: not view.is_busy, timeout=LONG_MS)
