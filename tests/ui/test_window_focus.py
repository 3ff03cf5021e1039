"""Focus and selection while figures are typed and banners answered: nobody but the user moves them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hollow_parts import two_bells
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QPushButton
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.fake_session import press

from ventplanner.io.meshes import write
from ventplanner.ui.panels.vent_card import FiguredCard, ProposalCard, VentCard
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
Key = Qt.Key
Open = Callable[[Path | str], MainWindow]


@pytest.fixture(name="window")
def window_(opened: Open, tmp_path: Path) -> MainWindow:
    path = tmp_path / "two bells.stl"
    write(two_bells(), path)
    return opened(path)


def card_of(window: MainWindow) -> FiguredCard:
    card = window.card.card
    assert isinstance(card, FiguredCard)
    return card


def type_over(field: QLineEdit, text: str) -> None:
    """As a hand does: click into the field, mark all, type, Return."""
    QTest.mouseClick(field, LEFT)
    QTest.keyClick(field, Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClicks(QApplication.focusWidget(), text)
    QTest.keyClick(QApplication.focusWidget(), Key.Key_Return)


@pytest.mark.parametrize("name", ["diameter", "slope", "heading", "beyond"])
def test_a_figure_typed_on_a_proposal_keeps_vent_and_cursor(window: MainWindow, qtbot: QtBot, name: str) -> None:
    session = window.session
    failures: list[object] = []
    session.failed.connect(lambda *told: failures.append(told))
    vent = session.proposals[1].id  # it lies nearly level: each of its figures may be another one
    session.select(f"proposal {vent}")
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    passed: list[str] = []
    session.selection_changed.connect(lambda: passed.append(session.selected))
    assert isinstance(window.card.card, ProposalCard)
    type_over(
        getattr(card_of(window), name), {"diameter": "3 mm", "beyond": "0.9", "slope": "7", "heading": "80"}[name]
    )
    qtbot.waitUntil(lambda: bool(session.plan.vents) and looked_at(window), timeout=LONG_MS)
    assert session.selected == f"vent {vent}"
    assert set(passed) == {f"vent {vent}"}
    assert isinstance(window.card.card, VentCard)
    assert QApplication.focusWidget() is getattr(card_of(window), name)
    assert failures == []


def test_the_list_selects_nothing_because_the_focus_came_to_it(window: MainWindow, qtbot: QtBot) -> None:
    assert window.session.selected == ""
    window.tree.tree.setFocus()
    qtbot.waitUntil(window.tree.tree.hasFocus)
    assert window.session.selected == ""
    QTest.keyClick(window.tree.tree, Key.Key_Down)
    assert window.session.selected == "cavity A"


def test_answering_a_banner_by_mouse_or_key_leaves_the_selection(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session
    vent = f"proposal {session.proposals[-1].id}"
    for selected in ("", vent):
        for how in (lambda b: QTest.mouseClick(b, LEFT), lambda b: QTest.keyClick(b, Key.Key_Return)):
            session.select(selected)
            window.notices.say("Something to answer.", ("Not now", lambda: None))
            (answer,) = [b for b in window.notices.findChildren(QPushButton) if b.text() == "Not now" and b.isVisible()]
            answer.setFocus()
            how(answer)
            qtbot.waitUntil(lambda: window.notices.texts == ())
            QApplication.processEvents()
            assert session.selected == selected
    press(window, Key.Key_N)
    assert session.selected.startswith("proposal ")


def test_fields_stay_where_they_are_when_a_proposal_is_accepted(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session

    def places() -> list[tuple[int, int]]:
        QApplication.processEvents()
        card = card_of(window)
        fields = (card.diameter, card.slope, card.heading, card.beyond)
        return [(at.x(), at.y()) for at in (f.mapTo(window, QPoint(0, 0)) for f in fields)]

    seen = []
    for vent in session.proposals:  # their reasons are of different lengths
        session.select(f"proposal {vent.id}")
        seen.append(places())
    QTest.mouseClick(card_of(window).accept, LEFT)  # type: ignore[attr-defined]
    qtbot.waitUntil(lambda: isinstance(window.card.card, VentCard) and looked_at(window), timeout=LONG_MS)
    seen.append(places())
    assert seen == [seen[0]] * len(seen)


def test_a_second_click_where_accept_was_takes_nothing_back(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session
    session.select(f"proposal {session.proposals[0].id}")
    accept = card_of(window).accept  # type: ignore[attr-defined]
    at = accept.mapTo(window, accept.rect().center())
    for _ in range(2):
        QApplication.processEvents()
        under = window.childAt(at)
        QTest.mouseClick(under, LEFT, pos=under.mapFrom(window, at))
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    assert len(session.plan.vents) == 1


def test_an_upright_vent_points_to_no_side(window: MainWindow, qtbot: QtBot) -> None:
    upright, level = window.session.proposals[:2]
    window.session.select(f"proposal {upright.id}")
    shown = card_of(window).heading
    assert (shown.text(), shown.isEnabled()) == ("–", False)
    window.session.select(f"proposal {level.id}")
    shown = card_of(window).heading
    assert (shown.text(), shown.isEnabled()) == ("82.4°", True)
