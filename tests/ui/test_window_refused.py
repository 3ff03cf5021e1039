"""What does not fit: what was typed stays to be changed, the way out is told, and a drag has one truth."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hollow_parts import two_bells
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QListWidget
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.fake_session import press
from ui.view_bench import pixel

from ventplanner.io.meshes import write
from ventplanner.plan.refusal import place_of_refusal
from ventplanner.ui.dialogs.pages import Search
from ventplanner.ui.panels.vent_card import FiguredCard, VentCard
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
Key = Qt.Key


@pytest.fixture(name="window")
def window_(opened: Callable[[Path | str], MainWindow], tmp_path: Path) -> MainWindow:
    path = tmp_path / "two bells.stl"
    write(two_bells(), path)
    return opened(path)


def type_over(field: QLineEdit, text: str) -> None:
    QTest.mouseClick(field, LEFT)
    QTest.keyClick(field, Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClicks(field, text)
    QTest.keyClick(field, Key.Key_Return)


def said(window: MainWindow) -> str:
    return " ".join(x.text() for x in window.card.findChildren(QLabel) if x.isVisible())


def test_a_diameter_that_does_not_fit_stays_to_be_read_and_the_largest_is_told(
    window: MainWindow, qtbot: QtBot
) -> None:
    session = window.session
    qtbot.waitUntil(lambda: session.size_of(session.proposals[1].id) is not None, timeout=LONG_MS)
    session.select(f"proposal {session.proposals[1].id}")
    card = window.card.card
    assert isinstance(card, FiguredCard)
    field = card.diameter
    for _ in range(2):  # the same figure once more is refused once more
        type_over(field, "19 mm")
        qtbot.waitUntil(lambda: "the largest that fits there is " in said(window), timeout=LONG_MS)
        qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
        assert (field.text(), field.property("wrong"), session.plan.vents) == ("19.0 mm", True, ())
        assert field.hasFocus()
    most = said(window).partition("the largest that fits there is ")[2].partition(" mm")[0]
    QTest.keyClick(field, Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClicks(field, most)
    QTest.keyClick(field, Key.Key_Return)
    qtbot.waitUntil(lambda: bool(session.plan.vents) and looked_at(window), timeout=LONG_MS)
    assert session.plan.vents[0].diameter_mm == pytest.approx(float(most))
    accepted = window.card.card
    assert isinstance(accepted, VentCard)
    assert (accepted.diameter.text(), accepted.diameter.property("wrong")) == (f"{most} mm", False)
    assert "does not fit" not in said(window)


def test_a_drag_that_ends_where_nothing_fits_says_where_and_marks_why_till_then(
    window: MainWindow, qtbot: QtBot
) -> None:
    session, view = window.session, window.stage.view
    assert view is not None
    assert session.picture is not None
    session.accept(session.proposals[1].id)
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    view.look("front")
    qtbot.waitUntil(lambda: view.aim is not None and looked_at(window), timeout=LONG_MS)
    (vent,) = session.plan.vents
    shown = session.picture.vents[0]
    begin = pixel(view, shown.entry)
    sheet = view._sheet
    QTest.mousePress(sheet, LEFT, pos=begin)
    for down in (6, 12):
        QTest.mouseMove(sheet, begin + QPoint(0, down))
        qtbot.wait(60)
    qtbot.waitUntil(lambda: view.aim is not None, timeout=LONG_MS)
    edge = next(
        QPoint(begin.x(), y) for y in range(view.height() - 1, 0, -1) if view.hit(QPoint(begin.x(), y).toPointF())
    )
    QTest.mouseMove(sheet, edge)
    qtbot.waitUntil(lambda: bool(session.drag_refusal), timeout=LONG_MS)
    mark, place = window.stage.place_mark, place_of_refusal(session.drag_refusal)
    assert mark is not None
    assert place is not None
    eye = view.eye
    qtbot.waitUntil(lambda: mark.isVisible() and mark.point is not None, timeout=LONG_MS)
    assert mark.point == pytest.approx(place)
    assert view.eye == eye
    QTest.mouseRelease(sheet, LEFT, pos=edge)
    stays = f"Vent {vent.id} is where it last fitted; where it was let go, "
    qtbot.waitUntil(lambda: window._facts.text().startswith(stays), timeout=LONG_MS)
    assert "does not fit" not in window._facts.text()
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    qtbot.waitUntil(lambda: mark.point is None and not mark.isVisible(), timeout=LONG_MS)


def test_choosing_a_face_is_no_longer_asked_for_when_it_is_done(window: MainWindow, qtbot: QtBot) -> None:
    view = window.stage.view
    assert view is not None
    press(window, Key.Key_P)
    assert window._facts.text().startswith("Click the face")
    QTest.mouseClick(view._sheet, LEFT, pos=QPoint(view.width() // 2, view.height() // 2))
    qtbot.waitUntil(lambda: not window.face_mode, timeout=LONG_MS)
    assert not window._facts.text().startswith("Click the face")
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)


def test_the_search_says_that_nothing_was_found(window: MainWindow, qtbot: QtBot) -> None:
    window.dialogs.show_search()
    qtbot.waitUntil(lambda: window.findChild(Search) is not None)
    page = window.findChild(Search)
    QTest.keyClicks(page.field, "xyzzy")
    shown = page.findChild(QListWidget)
    assert [shown.item(k).text() for k in range(shown.count())] == ["No command has these words: xyzzy"]
    QTest.keyClick(page.field, Key.Key_Return)
    assert page.isVisible()
    page.reject()
    QApplication.processEvents()


def test_a_deleted_file_is_called_deleted(window: MainWindow, qtbot: QtBot) -> None:
    path = Path(window.session.path)
    kept = path.read_bytes()
    path.unlink()
    qtbot.waitUntil(lambda: any("was deleted or moved" in text for text in window.notices.texts), timeout=LONG_MS)
    assert len(window.notices.texts) == 1
    path.write_bytes(kept)
    qtbot.waitUntil(lambda: any("changed on disk" in text for text in window.notices.texts), timeout=LONG_MS)
    assert len(window.notices.texts) == 1
