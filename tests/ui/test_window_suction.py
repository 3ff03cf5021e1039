"""In a real window: what the cards say about suction, the conditions of a vent, remarks, advice, what is not known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QWidget
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at

from ventplanner import resources
from ventplanner.options import VentRules
from ventplanner.profile import Profile
from ventplanner.ui.panels.suction import BEFORE_LAST_CHANGE, Sign
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
Opened = Callable[[Path | str], MainWindow]


@pytest.fixture
def whelk(opened: Opened, qtbot: QtBot) -> MainWindow:
    window = opened(resources.sample("whelk"))
    window.session.set_usual_profile(Profile())
    _wait(window, qtbot)
    return window


def _wait(window: MainWindow, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: window.session.is_flow_known and looked_at(window), timeout=LONG_MS)


def _texts(window: MainWindow) -> list[str]:
    QApplication.processEvents()  # what was put into a card appears then
    card = window.card.card
    assert card is not None
    return [x.text() for x in card.findChildren(QLabel) if not x.isHidden() and not _is_gone(x)]


def _is_gone(widget: QWidget) -> bool:
    return widget.parentWidget() is not None and widget.parentWidget().isHidden()


def _told(window: MainWindow) -> str:
    return " ".join(_texts(window))


def _figure(window: MainWindow, name: str) -> str:
    QApplication.processEvents()  # what was put into a card appears then
    card = window.card.card
    assert card is not None
    named = [x for x in card.findChildren(QLabel) if x.accessibleName().startswith(f"{name}: ") and x.isVisible()]
    assert len(named) == 1, [x.accessibleName() for x in card.findChildren(QLabel)]
    return named[0].text()


def _signs(window: MainWindow) -> list[tuple[bool, str]]:
    QApplication.processEvents()  # what was put into a card appears then
    card = window.card.card
    assert card is not None
    return [(s._good, s.accessibleName()) for s in card.findChildren(Sign) if s.isVisible()]


def _press(window: MainWindow, begins: str) -> None:
    QApplication.processEvents()  # what was put into a card appears then
    card = window.card.card
    assert card is not None
    found = [b for b in card.findChildren(QAbstractButton) if b.text().startswith(begins) and b.isVisible()]
    QTest.mouseClick(found[0], LEFT)


def test_a_cavity_is_closed_before_and_sucks_little_after(opened: Opened, qtbot: QtBot) -> None:
    whelk = opened(resources.sample("lighthouse"))
    session = whelk.session
    session.set_profile(Profile())
    _wait(whelk, qtbot)
    session.select("cavity A")
    assert _figure(whelk, "At the lift") == "closed"
    assert "up to the pressure of the air, 101 kPa" in _told(whelk)
    assert _signs(whelk) == [(False, "above the limit of 5 kPa")]
    session.accept_all()
    assert not session.is_flow_known
    assert BEFORE_LAST_CHANGE in _told(whelk)
    card = whelk.card.card
    assert card is not None
    old = [x for x in card.findChildren(QLabel) if x.accessibleName().startswith("At the lift") and x.isVisible()]
    assert [x.property("role") for x in old] == ["old"]  # grey until the figures of now are there
    _wait(whelk, qtbot)
    assert BEFORE_LAST_CHANGE not in _told(whelk)
    assert _figure(whelk, "At the lift, before") == "closed"
    after = session.breathing.after.of("A")  # type: ignore[union-attr]
    assert after is not None
    assert _figure(whelk, "At the lift, after") == f"{after.peak_suction / 1000:.1f} kPa"
    assert _figure(whelk, "Force, after") == f"{after.peak_force:.2f} N"
    assert _figure(whelk, "Worst at, after") == f"{after.height:.1f} mm"
    assert _signs(whelk) == [(True, "within the limit of 5 kPa")]
    assert "so far is the viscosity in doubt" in _told(whelk)
    assert "Suction, an estimate" in _told(whelk)
    session.select("cup A1")
    assert _figure(whelk, "At the lift, after") == f"{after.peak_suction / 1000:.1f} kPa"


def _narrow(window: MainWindow, qtbot: QtBot) -> str:
    """The first proposal, accepted much too narrow for the limit."""
    session = window.session
    session.accept(session.proposals[0].id)
    name = session.plan.vents[0].id
    session.select(f"vent {name}")
    session.set_diameter(f"vent {name}", 1.2)
    session.set_profile(replace(Profile(), suction_limit_kpa=2.0))
    qtbot.waitUntil(lambda: session.plan.vents[0].diameter_mm == 1.2, timeout=LONG_MS)
    _wait(window, qtbot)
    return name


def test_one_click_makes_a_vent_as_wide_as_the_limits_ask(whelk: MainWindow, qtbot: QtBot) -> None:
    session, name = whelk.session, _narrow(whelk, qtbot)
    signs = _signs(whelk)
    assert [good for good, _ in signs] == [False, False, True]
    assert signs[0][1].endswith(", binds")
    assert "How wide it must be, an estimate" in _told(whelk)
    (remark,) = whelk.todo.remarks
    assert remark.startswith(f"Vent {name} sucks")
    assert "the limit is 2 kPa" in remark
    assert remark not in whelk.todo.sentences
    assert whelk.may_export  # a remark hinders nothing
    wide = float(remark.partition("kPa: ")[2].partition(" mm")[0])
    _press(whelk, "Make it")
    qtbot.waitUntil(lambda: session.plan.vents[0].diameter_mm == wide, timeout=LONG_MS)
    _wait(whelk, qtbot)
    assert session.undo_name == f"Set diameter of vent {name} to {wide:.1f} mm"
    assert session.selected == f"vent {name}"
    assert whelk.focusWidget() is whelk.card.card.diameter  # type: ignore[union-attr]
    assert all(good for good, _ in _signs(whelk))
    assert whelk.todo.remarks == ()
    session.undo()
    _wait(whelk, qtbot)
    assert whelk.todo.remarks == (remark,)


def test_a_remark_leads_to_its_vent(whelk: MainWindow, qtbot: QtBot) -> None:
    session = whelk.session
    _narrow(whelk, qtbot)
    session.select("")
    QApplication.processEvents()
    sentence = next(b for b in whelk.todo.findChildren(QAbstractButton) if b.accessibleName() == whelk.todo.remarks[0])
    QTest.mouseClick(sentence, LEFT)
    assert session.selected == f"vent {session.plan.vents[0].id}"


def test_a_proposal_is_as_wide_as_asked_and_says_why(whelk: MainWindow, qtbot: QtBot) -> None:
    session = whelk.session
    session.set_profile(replace(Profile(), suction_limit_kpa=1.0))
    _wait(whelk, qtbot)
    qtbot.waitUntil(lambda: session.size_of("1") is not None, timeout=LONG_MS)
    first = session.proposals[0]
    session.select(f"proposal {first.id}")
    QApplication.processEvents()
    assert session.size_of("1").diameter == first.diameter_mm  # type: ignore[union-attr]
    assert "the way down presses" in _told(whelk)
    assert "does not let air in" in _told(whelk)  # whether it empties by itself
    assert _figure(whelk, "Lift at most").endswith("mm/min")
    # A stricter limit asks for more, and the proposal follows; what was accepted stays.
    session.accept("1")
    _wait(whelk, qtbot)
    session.set_profile(replace(Profile(), suction_limit_kpa=0.3))
    _wait(whelk, qtbot)
    assert session.plan.vents[0].diameter_mm == first.diameter_mm
    assert not all(good for good, _ in _signs(whelk))
    # One command makes it as wide as asked now, as one edit.
    qtbot.waitUntil(lambda: bool(session.widths_by_need), timeout=LONG_MS)
    whelk.actions_by_name["size_by_need"].trigger()
    qtbot.waitUntil(lambda: session.plan.vents[0].diameter_mm > first.diameter_mm, timeout=LONG_MS)
    _wait(whelk, qtbot)
    assert session.undo_name == "Size vent 1 by need"
    assert all(good for good, _ in _signs(whelk))
    qtbot.waitUntil(lambda: not session.widths_by_need, timeout=LONG_MS)
    session.undo()
    assert session.plan.vents[0].diameter_mm == first.diameter_mm


def test_with_one_width_for_all_a_proposal_is_accepted_as_wide_as_asked(whelk: MainWindow, qtbot: QtBot) -> None:
    session = whelk.session
    session.set_rules(VentRules())
    session.set_profile(replace(Profile(), suction_limit_kpa=0.8))
    _wait(whelk, qtbot)
    qtbot.waitUntil(lambda: session.size_of("1") is not None, timeout=LONG_MS)
    first = session.proposals[0]
    assert first.diameter_mm == 2.5
    session.select(f"proposal {first.id}")
    QApplication.processEvents()
    _press(whelk, "Accept it")
    qtbot.waitUntil(lambda: bool(session.plan.vents), timeout=LONG_MS)
    _wait(whelk, qtbot)
    assert session.plan.vents[0].diameter_mm > first.diameter_mm
    assert all(good for good, _ in _signs(whelk))


def test_the_speeds_of_a_vent_keep_the_limit(whelk: MainWindow, qtbot: QtBot) -> None:
    session = whelk.session
    session.accept_all()
    _wait(whelk, qtbot)
    session.select(f"vent {session.plan.vents[0].id}")
    lift = float(_figure(whelk, "Lift at most").split()[0])
    session.set_profile(replace(Profile(), lift_speed_mm_min=lift))
    _wait(whelk, qtbot)
    row = session.breathing.after.of("A")  # type: ignore[union-attr]
    assert row is not None
    assert row.peak_suction == pytest.approx(5000.0, rel=0.02)


def test_the_part_card_advises_on_the_printer(opened: Opened, qtbot: QtBot) -> None:
    window = opened(resources.sample("lighthouse"))
    session = window.session
    session.set_profile(Profile())
    _wait(window, qtbot)
    assert "A, B, C and D are closed. No speed helps them: only a vent does." in _told(window)
    session.accept_all()
    _wait(window, qtbot)
    session.select("")
    assert "Setting the printer, an estimate" in _told(window)
    assert _figure(window, "Lift speed").startswith("up to ")
    assert _figure(window, "Base-layer compensation") == "0.2 mm"
    assert "Open, and yet they suck" in _told(window)
    assert _figure(window, "Hollow from 74.5 mm").endswith("kPa")
    assert "Estimates for planning, not measured" in _told(window)


def test_figures_follow_the_unit_of_lengths(whelk: MainWindow, qtbot: QtBot) -> None:
    whelk.session.select("cavity A")
    whelk.prefer(replace(whelk.preferences, unit="inch"))
    assert _figure(whelk, "Worst at").endswith(" in")
    whelk.prefer(replace(whelk.preferences, unit="mm"))
    assert _figure(whelk, "Worst at").endswith(" mm")
