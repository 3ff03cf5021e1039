"""Interrupted work is offered in the real window, also beside another part, and never thrown away unasked."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hollow_parts import two_bells
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at

from ventplanner.app.state import AppState
from ventplanner.io.meshes import read, write
from ventplanner.ui.journal import Abandoned, Journal, abandoned
from ventplanner.ui.window import MainWindow

Open = Callable[[Path | str], MainWindow]


@pytest.fixture(name="left")
def left_(tmp_path: Path) -> Abandoned:
    """Work on a part, as a program left it that was ended by force."""
    path = tmp_path / "buoy.stl"
    write(two_bells(), path)
    journal = Journal()
    assert journal.write(AppState(read(path)), str(path), None, "")
    journal.close(keep=True)
    (found,) = abandoned()
    return found


def click(window: MainWindow, text: str) -> None:
    (found,) = [b for b in window.notices.findChildren(QPushButton) if b.text() == text and b.isVisible()]
    QTest.mouseClick(found, Qt.MouseButton.LeftButton)


def test_it_is_offered_beside_another_part_and_discarded_only_after_a_question(
    left: Abandoned, opened: Open, answers: Callable[..., object], tmp_path: Path, qtbot: QtBot
) -> None:
    other = tmp_path / "bell.stl"
    write(two_bells(), other)
    window = opened(other)
    (offer,) = window.notices.texts
    assert offer == "The work on buoy.stl was interrupted (0 vents accepted). Go on with it?"
    asked = answers("Keep it", "Discard it")
    click(window, "Discard…")
    assert (len(abandoned()), window.notices.texts) == (1, (offer,))
    click(window, "Discard…")
    assert (len(abandoned()), window.notices.texts) == (0, ())
    assert asked.asked[0].startswith("Discard the interrupted work on buoy.stl?")  # type: ignore[attr-defined]


def test_not_now_keeps_it_for_the_next_start_and_go_on_opens_it(
    left: Abandoned, opened: Open, tmp_path: Path, qtbot: QtBot
) -> None:
    paths = [tmp_path / name for name in ("bell.stl", "bells.stl")]
    for path in paths:
        write(two_bells(), path)
    window = opened(paths[0])
    click(window, "Not now")
    assert window.notices.texts == ()
    opened(paths[1])
    assert (window.notices.texts, len(abandoned())) == ((), 1)
    window._recovery._put_off.clear()  # as the next start
    opened(paths[0])
    click(window, "Go on")
    qtbot.waitUntil(lambda: window.session.path == left.entry.path and looked_at(window), timeout=LONG_MS)
    assert window.session.is_unsaved
    assert window.notices.texts == ()
