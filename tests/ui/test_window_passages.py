"""Passages in the window: offered in the line of what is left, accepted, made wider, set aside, removed, undone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hollow_parts import keel
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QPushButton
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.fake_session import press, type_into

from ventplanner.io.meshes import write
from ventplanner.io.project import load_plan
from ventplanner.ui.panels.passage_card import JoiningCard, PassageCard
from ventplanner.ui.panels.rows import rows
from ventplanner.ui.view.sheet import Sheet
from ventplanner.ui.window import MainWindow

Open = Callable[[Path | str], MainWindow]
JOIN = "B is sealed from 22.0 mm: join it to A inside, or leave it as it is."


@pytest.fixture(name="window")
def window_(opened: Open, tmp_path: Path, qtbot: QtBot) -> MainWindow:
    path = tmp_path / "keel.stl"
    write(keel(), path)
    window = opened(path)
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    return window


def known(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session
    qtbot.waitUntil(lambda: session.is_settled and session.is_known and not session.stale, timeout=LONG_MS)


def row_words(window: MainWindow) -> dict[str, str]:
    """Word and state of every row of the tree."""
    return {row.word: row.state for cavity in rows(window.session) for row in (cavity, *cavity.children)}


def texts(card: object) -> list[str]:
    return [label.text() for label in card.findChildren(QLabel) if not label.isHidden()]  # type: ignore[attr-defined]


def choose_offer(window: MainWindow) -> JoiningCard:
    """Click the line that offers the passage."""
    (line,) = [b for b in window.todo.findChildren(QPushButton) if b.isVisible() and "join it to A" in b.text()]
    QTest.mouseClick(line, Qt.MouseButton.LeftButton)
    assert window.session.selected == "joining P1"
    card = window.card.card
    assert isinstance(card, JoiningCard)
    return card


def test_the_line_offers_it_and_the_card_tells_where_it_runs(window: MainWindow, qtbot: QtBot) -> None:
    known(window, qtbot)
    assert JOIN in [x.text for x in window.session.left]
    card = choose_offer(window)
    shown = texts(card)
    assert any(text.startswith("cavity B, cup B1") for text in shown)
    assert "cavity A" in shown
    assert any(text.startswith("5.") and "mm" in text for text in shown)
    assert row_words(window)["joining P1"] == "proposed"
    picture = window.session.picture
    assert picture is not None
    (leg,) = [v for v in picture.vents if v.inside]
    assert (leg.word, leg.status, leg.cavity) == ("joining P1", "proposed", "B")


def test_return_accepts_it_and_the_chart_and_the_line_follow(window: MainWindow, qtbot: QtBot) -> None:
    known(window, qtbot)
    choose_offer(window)
    press(window, Qt.Key.Key_Return)
    known(window, qtbot)
    assert window.session.undo_name == "Join B1 to A inside"
    assert window.session.selected == "passage P1"
    assert row_words(window)["passage P1"] == "accepted"
    assert row_words(window)["cavity B"] == "sealed"  # joined to A, which is sealed still
    press(window, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    known(window, qtbot)
    assert window.session.left == ()
    picture = window.session.picture
    assert picture is not None
    (band,) = [b for b in picture.bands if b.cavity == "B"]
    assert band.without.max() > 60.0
    assert band.with_vents.max() < 5.0
    for _ in range(2):
        press(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
        known(window, qtbot)
    assert window.session.plan.passages == ()
    assert JOIN in [x.text for x in window.session.left]


def test_it_is_set_aside_brought_back_and_removed(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    known(window, qtbot)
    session = window.session
    choose_offer(window)
    press(window, Qt.Key.Key_X)
    known(window, qtbot)
    assert session.joins == ()
    assert JOIN not in [x.text for x in session.left]
    session.select("cavity B")
    (back,) = [b for b in window.findChildren(QPushButton) if b.isVisible() and b.text().startswith("Bring back")]
    QTest.mouseClick(back, Qt.MouseButton.LeftButton)
    known(window, qtbot)
    assert [p.id for p in session.joins] == ["P1"]
    session.select("joining P1")
    press(window, Qt.Key.Key_Return)
    known(window, qtbot)
    session.save(str(tmp_path / "keel.ventplan"))
    qtbot.waitUntil(lambda: not session.is_unsaved, timeout=LONG_MS)
    assert load_plan(tmp_path / "keel.ventplan").plan.passages == session.plan.passages
    press(window, Qt.Key.Key_Delete)
    known(window, qtbot)
    assert session.plan.passages == ()
    assert [p.id for p in session.joins] == ["P1"]


def test_its_diameter_is_typed_and_measured_anew(window: MainWindow, qtbot: QtBot) -> None:
    known(window, qtbot)
    session = window.session
    choose_offer(window)
    press(window, Qt.Key.Key_Return)
    known(window, qtbot)
    before = session.plan.passages[0]
    session.set_passage_width("P1", 2.0)
    qtbot.waitUntil(lambda: session.plan.passages[0].diameter_mm == 2.0, timeout=LONG_MS)
    after = session.plan.passages[0]
    assert after.points_mm[0] == pytest.approx(before.points_mm[0], abs=1e-3)
    assert after.clearance_mm == pytest.approx(before.clearance_mm + 0.25, abs=0.05)
    card = window.card.card
    assert isinstance(card, PassageCard)
    type_into(card.diameter, "12")
    qtbot.waitUntil(lambda: any("does not fit: " in text for text in texts(card)), timeout=LONG_MS)
    assert session.plan.passages[0] == after


def pixel_of(window: MainWindow, at_mm: tuple[float, ...]) -> QPoint:
    """Where a place in the file's axes is on the view."""
    view, findings = window.stage.view, window.session.findings
    assert view is not None
    assert findings is not None
    x, y, _ = view.eye.to_screen(findings.scene.frame.to_build(np.array(at_mm)))
    return QPoint(round(float(x)), round(float(y)))


def move(window: MainWindow, to: QPoint, buttons: Qt.MouseButton) -> None:
    """The pointer goes there, with a button held or none; over what the view is painted on."""
    sheet = window.stage.view.findChild(Sheet)
    assert sheet is not None
    at = QPointF(to)
    event = QMouseEvent(
        QEvent.Type.MouseMove, at, sheet.mapToGlobal(at), Qt.MouseButton.NoButton, buttons, Qt.KeyboardModifier(0)
    )
    QApplication.sendEvent(sheet, event)


def sealed_with_vents(window: MainWindow, cavity: str) -> float:
    """Largest sealed area in the filled band of the chart, mm2."""
    picture = window.session.picture
    assert picture is not None
    (band,) = [b for b in picture.bands if b.cavity == cavity]
    return float(band.with_vents.max())


def from_the_side(window: MainWindow, qtbot: QtBot) -> Sheet:
    """Both hollows lie beside each other in the view, which shows them through the skin."""
    view = window.stage.view
    assert view is not None
    view.look("right")
    qtbot.waitUntil(lambda: not view.is_busy and view.aim is not None, timeout=LONG_MS)
    sheet = view.findChild(Sheet)
    assert isinstance(sheet, Sheet)
    return sheet


def test_an_end_is_dragged_with_a_live_read_out_and_a_cross_where_it_does_not_fit(
    window: MainWindow, qtbot: QtBot
) -> None:
    known(window, qtbot)
    session, stage = window.session, window.stage
    choose_offer(window)
    press(window, Qt.Key.Key_Return)
    known(window, qtbot)
    press(window, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    known(window, qtbot)
    before, verdict = session.plan.passages[0], window.verdict.sentence
    sealed = sealed_with_vents(window, "B")
    assert sealed < 5.0
    sheet = from_the_side(window, qtbot)
    assert stage.laying is not None
    assert stage.place_mark is not None
    assert len(stage.laying.mark.stops) == 2
    start = pixel_of(window, before.points_mm[0])
    up = QPoint(0, pixel_of(window, (0.0, 2.0, 0.0)).y() - start.y())
    QTest.mousePress(sheet, Qt.MouseButton.LeftButton, pos=start)
    # To the middle of the hollow's height.
    move(window, start + up, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "of material round it" in stage.laying.mark.text, timeout=LONG_MS)
    trial = session.passage_in_hand
    assert trial is not None
    assert session.plan.passages == (before,)  # nothing is edited yet
    qtbot.waitUntil(lambda: sealed_with_vents(window, "B") > 10.0, timeout=LONG_MS)  # the chart follows all the same
    qtbot.waitUntil(lambda: window.verdict.sentence != verdict, timeout=LONG_MS)
    figures = [t for t in texts(window.card.card) if t.endswith("or more")]
    assert trial.passage is not None
    qtbot.waitUntil(lambda: f"{trial.passage.clearance_mm:.1f} mm or more" in texts(window.card.card), timeout=LONG_MS)
    assert figures
    # Far beyond the hollows: no hollow there, so the last place stays; over the floor it does not fit.
    low = pixel_of(window, (0.0, 2.0, -4.95))
    move(window, low, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "does not fit" in stage.laying.mark.text, timeout=LONG_MS)
    qtbot.waitUntil(lambda: stage.place_mark.point is not None, timeout=LONG_MS)
    move(window, start + up, Qt.MouseButton.LeftButton)
    QTest.mouseRelease(sheet, Qt.MouseButton.LeftButton, pos=start + up)
    known(window, qtbot)
    assert session.passage_in_hand is None
    assert session.undo_name == "Move passage P1"
    after = session.plan.passages[0]
    assert after.points_mm[1] == pytest.approx(before.points_mm[1], abs=0.05)
    assert after.points_mm[0][2] == pytest.approx(0.0, abs=0.3)
    assert stage.place_mark.point is None
    assert sealed_with_vents(window, "B") > 10.0
    press(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    known(window, qtbot)
    assert session.plan.passages == (before,)
    assert (sealed_with_vents(window, "B"), window.verdict.sentence) == (sealed, verdict)


def test_a_new_one_is_laid_by_two_clicks_and_escape_ends_that(window: MainWindow, qtbot: QtBot) -> None:
    known(window, qtbot)
    session, stage = window.session, window.stage
    sheet = from_the_side(window, qtbot)
    assert stage.laying is not None
    press(window, Qt.Key.Key_I, Qt.KeyboardModifier.ShiftModifier)
    assert stage.laying.is_on
    first, second = pixel_of(window, (0.0, 3.0, -2.0)), pixel_of(window, (0.0, -4.0, -2.0))
    QTest.mouseClick(sheet, Qt.MouseButton.LeftButton, pos=first)
    assert len(stage.laying.mark.stops) == 1
    move(window, second, Qt.MouseButton.NoButton)
    qtbot.waitUntil(lambda: bool(stage.laying.mark.text), timeout=LONG_MS)
    press(window, Qt.Key.Key_Escape)
    assert session.passage_in_hand is None
    assert stage.laying.is_on
    QTest.mouseClick(sheet, Qt.MouseButton.LeftButton, pos=first)
    QTest.mouseClick(sheet, Qt.MouseButton.LeftButton, pos=second)
    assert not stage.laying.is_on
    known(window, qtbot)
    (passage,) = session.plan.passages
    assert (session.selected, session.undo_name) == (f"passage {passage.id}", f"Add passage {passage.id}")
    assert (passage.cavity, passage.to) == ("B", "A")
    assert session.joins == ()
