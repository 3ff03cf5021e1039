"""A vent where none is proposed: by the menu of a place, by its key, by the next click; and a proposal made again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from bodies import box, cut, rod, solid
from hollow_parts import two_bells
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QCursor
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QMenu, QPushButton
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.fake_session import press
from ui.view_bench import pixel

from ventplanner.io.meshes import write
from ventplanner.ui.panels.vent_card import VentCard
from ventplanner.ui.window import MainWindow

LEFT, RIGHT = Qt.MouseButton.LeftButton, Qt.MouseButton.RightButton
Key = Qt.Key
Open = Callable[[Path | str], MainWindow]


@pytest.fixture(name="window")
def window_(opened: Open, tmp_path: Path, qtbot: QtBot) -> MainWindow:
    path = tmp_path / "two bells.stl"
    write(two_bells(), path)
    window = opened(path)
    assert window.stage.view is not None
    window.stage.view.look("front")
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    return window


def place_of(window: MainWindow, number: int) -> QPoint:
    """A pixel of the skin over a cavity: at the height of its middle, in front."""
    view = window.stage.view
    assert view is not None
    assert window.session.findings is not None
    cavity = window.session.findings.cavities[number]
    frame = window.session.findings.scene.frame
    return pixel(view, tuple(frame.to_build(np.array(cavity.bounds).mean(axis=0))))


def stands(window: MainWindow, qtbot: QtBot, count: int = 1) -> None:
    qtbot.waitUntil(lambda: len(window.session.plan.vents) == count and looked_at(window), timeout=LONG_MS)


def test_right_click_on_the_skin_drills_a_vent_there(window: MainWindow, qtbot: QtBot) -> None:
    session, view = window.session, window.stage.view
    assert view is not None
    offered = [v.id for v in session.proposals]
    QTest.mouseClick(view._sheet, RIGHT, pos=place_of(window, 0))
    qtbot.waitUntil(lambda: isinstance(QApplication.activePopupWidget(), QMenu))
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    assert [a.text() for a in menu.actions()] == ["New vent here", "Why not here?", "Drill on from this hole"]
    QTest.mouseClick(menu, LEFT, pos=menu.actionGeometry(menu.actions()[0]).center())
    stands(window, qtbot)
    (vent,) = session.plan.vents
    assert (vent.cavity, vent.diameter_mm) == ("A", session.state.rules.diameter_mm if session.state else 0)
    assert vent.id not in offered
    assert [v.id for v in session.proposals] == offered
    assert session.selected == f"vent {vent.id}"
    assert isinstance(window.card.card, VentCard)
    assert session.undo_name == f"Add vent {vent.id}"
    press(window, Key.Key_Delete)
    stands(window, qtbot, 0)
    press(window, Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    stands(window, qtbot, 1)


def menu_at(window: MainWindow, place: QPoint, qtbot: QtBot) -> QMenu:
    assert window.stage.view is not None
    QTest.mouseClick(window.stage.view._sheet, RIGHT, pos=place)
    qtbot.waitUntil(lambda: isinstance(QApplication.activePopupWidget(), QMenu))
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    return menu


def test_an_opening_is_moved_by_its_card_and_a_click_or_by_the_menu_of_a_place(
    opened: Open, tmp_path: Path, qtbot: QtBot
) -> None:
    hole = rod((0.4, -5.0, 9.0), (0.4, -20.0, 9.0), 1.2)
    path = tmp_path / "float.stl"
    write(solid(cut(box(26.0, (0.0, 0.0, 13.0)), box(20.0, (0.0, 0.0, 13.0)), hole)), path)
    window = opened(path)
    session, view = window.session, window.stage.view
    assert view is not None
    assert session.findings is not None
    view.look("front")
    session.select("cavity A")
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    entry = tuple(session.findings.scene.frame.to_build(np.array([-4.0, -13.0, 17.0])))
    menu = menu_at(window, pixel(view, entry), qtbot)
    assert "Move the opening 2.4 mm wide at" in menu.actions()[-1].text()
    menu.close()
    assert any(b.text() == "Drill on from here" for b in window.card.findChildren(QPushButton))
    move = next(b for b in window.card.findChildren(QPushButton) if b.text() == "Move it…")
    QTest.mouseClick(move, LEFT)
    assert (view.tool, window._facts.text()[:29]) == ("vent", "Click where the opening is to")
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    QTest.mouseClick(view._sheet, LEFT, pos=pixel(view, entry))
    qtbot.waitUntil(lambda: session.undo_name == "Move the opening of 2.4 mm", timeout=LONG_MS)
    stands(window, qtbot)
    assert session.plan.vents[0].entry_mm == pytest.approx((-4.0, -13.0, 17.0), abs=0.3)
    assert session.findings.cavities[0].openings == ()


def test_the_key_takes_the_place_under_the_pointer_or_the_next_click_or_return(
    window: MainWindow, qtbot: QtBot
) -> None:
    view = window.stage.view
    assert view is not None
    QCursor.setPos(view.mapToGlobal(place_of(window, 0)))
    qtbot.waitUntil(view.underMouse)
    press(window, Key.Key_V)
    stands(window, qtbot)
    assert window.session.plan.vents[0].cavity == "A"
    QCursor.setPos(window.tree.mapToGlobal(QPoint(20, 20)))
    qtbot.waitUntil(lambda: not view.underMouse())
    press(window, Key.Key_V)
    assert (view.tool, window._facts.text()[:29]) == ("vent", "Click the place of the skin w")
    press(window, Key.Key_Escape)
    assert view.tool == "look"
    press(window, Key.Key_V)
    QTest.mouseClick(view._sheet, LEFT, pos=place_of(window, 1))
    stands(window, qtbot, 2)
    assert [v.cavity for v in window.session.plan.vents] == ["A", "B"]
    assert view.tool == "look"


def test_a_place_where_none_fits_is_told_and_nothing_changes(window: MainWindow, qtbot: QtBot) -> None:
    view, session = window.stage.view, window.session
    assert view is not None
    assert session.picture is not None
    session.accept(session.proposals[1].id)
    stands(window, qtbot)
    before = session.plan
    x, y, z = session.picture.vents[0].entry  # beside its hole, through which the wall behind may show
    QCursor.setPos(view.mapToGlobal(pixel(view, (x + 2.0, y, z))))
    qtbot.waitUntil(view.underMouse)
    for _ in range(2):
        window.say("")
        press(window, Key.Key_V)
        qtbot.waitUntil(lambda: window._facts.text().startswith("No vent fits there: "), timeout=LONG_MS)
    assert session.plan == before


def test_a_cup_whose_vent_was_moved_away_is_proposed_for_again(window: MainWindow, qtbot: QtBot) -> None:
    session, view = window.session, window.stage.view
    assert view is not None
    assert session.findings is not None
    proposal = next(v for v in session.proposals if v.cavity == "A")
    others = [v for v in session.proposals if v is not proposal]
    hit = view.hit(place_of(window, 1).toPointF())
    assert hit is not None
    session.drag_to(f"proposal {proposal.id}", hit.point, hit.normal)
    session.drag_end()
    stands(window, qtbot)
    assert session.plan.vents[0].cavity == "B"
    session.select("cavity A")
    again = next(b for b in window.card.findChildren(QPushButton) if b.text().startswith("Propose again"))
    assert again.isVisible()
    QTest.mouseClick(again, LEFT)
    qtbot.waitUntil(lambda: len(session.proposals) == len(others) + 1 and looked_at(window), timeout=LONG_MS)
    assert any(v.entry_mm == proposal.entry_mm for v in session.proposals)
    assert not again.isVisible()
    assert session.undo_name == f"Propose again for cup {proposal.cup}"


def test_a_proposal_for_a_cup_that_breathes_already_says_so(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session
    assert session.findings is not None
    proposal = next(v for v in session.proposals if v.cavity == "A")
    point = session.findings.scene.frame.to_build(np.array(proposal.entry_mm)) + np.array([4.0, 0.0, 0.0])
    session.drag_to(f"proposal {proposal.id}", point, np.array([0.0, 0.0, -1.0]))
    session.drag_end()
    stands(window, qtbot)
    session.propose_again(proposal.cup)
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    again = next(v for v in session.proposals if v.entry_mm == proposal.entry_mm)
    session.select(f"proposal {again.id}")
    told = " ".join(x.text() for x in window.card.findChildren(QLabel) if x.isVisible())
    assert "Its cup breathes already through the accepted vents: this would be one more opening for it. Opens" in told
    session.remove(session.plan.vents[0].id)
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    session.select(f"proposal {session.proposals[0].id}")
    told = " ".join(x.text() for x in window.card.findChildren(QLabel) if x.isVisible())
    assert "breathes already" not in told
