"""The main job in a real window on a real screen: open, review, accept, undo, export, open what was exported."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QWidget
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, Answers, looked_at
from ui.view_bench import middle_of, pixel

from ventplanner import resources
from ventplanner.io.report import assumptions
from ventplanner.ui.panels.result_card import ResultCard
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier
Opened = Callable[[Path | str], MainWindow]


def spot(window: MainWindow, word: str) -> QPoint:
    """A pixel of the view where a click means this vent: the nearest to the middle of what is drawn of it."""
    view, picture = window.stage.view, window.session.picture
    assert view is not None
    assert picture is not None
    vent = next(v for v in picture.vents if v.word == word)
    middle = pixel(view, middle_of(vent))
    steps = range(-60, 61, 3)
    for place in sorted((QPoint(x, y) for x in steps for y in steps), key=QPoint.manhattanLength):
        if all(view.word_at((middle + place + QPoint(k, k)).toPointF()) == word for k in (-1, 1)):
            return middle + place
    raise AssertionError(f"{word} is not in the view")


def click(window: MainWindow, place: QPoint) -> None:
    view = window.stage.view
    assert view is not None
    target = view.childAt(place) or view
    QTest.mouseClick(target, LEFT, NONE, target.mapFrom(view, place))


def test_a_sample_is_reviewed_vented_exported_and_opened_again(
    opened: Opened, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answers: Callable[..., Answers]
) -> None:
    window = opened(resources.sample("lighthouse"))
    session = window.session
    assert [c.state for c in session.picture.cavities] == ["sealed"] * 4
    proposed = len(session.proposals)
    assert proposed >= 4

    # A click on a ghost selects it, Return accepts it, and the chart falls.
    cavity_c = next(v for v in session.proposals if v.cavity == "C")
    before = _peak(window, "C")
    click(window, spot(window, f"proposal {cavity_c.id}"))
    assert session.selected == f"proposal {cavity_c.id}"
    QTest.keyClick(window, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    assert [v.cavity for v in session.plan.vents] == ["C"]
    assert before > 100.0
    assert _peak(window, "C") < 1.0

    undo_and_redo(window)

    # The others by one key; then nothing is left.
    QTest.keyClick(window, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: looked_at(window) and not session.left, timeout=LONG_MS)
    assert len(session.plan.vents) == proposed
    assert {c.state for c in session.picture.cavities} == {"breathing"}

    # Export by the one primary button.
    out = tmp_path / "vented.stl"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(out), "STL (*.stl)"))
    with qtbot.waitSignal(session.exported, timeout=LONG_MS):
        QTest.mouseClick(window.todo.export, LEFT)
    assert session.last_export is not None
    assert session.last_export.verified
    assert isinstance(window.card.card, ResultCard)
    shown = " ".join(child.text() for child in window.card.findChildren(QWidget) if hasattr(child, "text"))
    for words in ("every edge is closed", "Taken for granted", "skin sensitiser", "highly flammable"):
        assert words in shown
    assert session.last_export.notes == assumptions(session.findings) != ()
    assert session.is_unsaved  # the drilled part holds no plan

    write_sheets(window, qtbot, tmp_path, monkeypatch, answers, holes=proposed)

    # What was written breathes.
    answers("Do not save")
    again = opened(out)
    assert session.findings is not None
    assert [c.state for c in again.session.findings.cavities if c.state != "breathing"] == []
    assert again.session.left == ()
    assert again.session.proposals == ()


def undo_and_redo(window: MainWindow) -> None:
    """Undo takes the one vent back, redo brings it again."""
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert window.session.plan.vents == ()
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert len(window.session.plan.vents) == 1


def write_sheets(
    window: MainWindow,
    qtbot: QtBot,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    answers: Callable[..., Answers],
    *,
    holes: int,
) -> None:
    """The sheet of the exported file, and its holes as a table: by the card's button and by the key."""
    session, out = window.session, tmp_path / "vented.stl"
    card = window.card.card
    assert isinstance(card, ResultCard)
    for name, chosen, do in (
        ("sheet", "PDF, Letter (*.pdf)", lambda: QTest.mouseClick(card.sheet, LEFT)),
        ("table", "Holes as a table (*.csv)", lambda: press_sheet(window)),
    ):
        monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_, n=name, c=chosen: (str(tmp_path / n), c))
        with qtbot.waitSignal(session.said, timeout=LONG_MS, check_params_cb=lambda text: text.startswith("Written")):
            do()
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert len((tmp_path / "table.csv").read_text().splitlines()) == 1 + holes
    out.write_bytes(out.read_bytes() + b"\0")  # another program writes to it: it is not what was verified
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "late.pdf"), ""))
    told = answers("Close")
    with qtbot.waitSignal(session.failed, timeout=LONG_MS) as refused:
        press_sheet(window)
    assert "not the file any more that was verified" in str(refused.args[0])
    assert not (tmp_path / "late.pdf").exists()
    qtbot.waitUntil(lambda: len(told.asked) == 1, timeout=LONG_MS)
    out.write_bytes(out.read_bytes()[:-1])


def press_sheet(window: MainWindow) -> None:
    QTest.keyClick(window, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)


def _peak(window: MainWindow, cavity: str) -> float:
    assert window.session.picture is not None
    band = next(b for b in window.session.picture.bands if b.cavity == cavity)
    return float(np.max(band.with_vents))


def test_a_ghost_is_dragged_along_the_skin_and_undone_in_one_step(opened: Opened, qtbot: QtBot) -> None:
    window = opened(resources.sample("puffin"))
    session, view = window.session, window.stage.view
    assert view is not None
    ghost = next(v for v in session.proposals if v.cup == "A2")
    start = spot(window, f"proposal {ghost.id}")
    belly = QPoint(round(view.eye.to_screen(np.zeros(3))[0]), round(view.eye.mapping.row(36.0)))
    target = view.childAt(start) or view
    QTest.mousePress(target, LEFT, NONE, target.mapFrom(view, start))
    for step in range(1, 13):
        QTest.mouseMove(target, target.mapFrom(view, start + (belly - start) * (step / 12)))
        qtbot.wait(20)
    QTest.mouseRelease(target, LEFT, NONE, target.mapFrom(view, belly))
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    assert len(session.plan.vents) == 1
    moved = session.plan.vents[0]
    assert moved.entry_mm[2] == pytest.approx(36.0, abs=1.0)
    assert moved.entry_mm[0] == pytest.approx(0.0, abs=1.0)
    assert moved.cavity == "A"
    assert session.undo_name == f"Place vent {ghost.id}"
    session.undo()
    assert session.plan.vents == ()
    assert session.undo_name is None


def test_the_part_is_hung_by_another_face_and_its_heights_follow(opened: Opened, qtbot: QtBot, bells: Path) -> None:
    window = opened(bells)
    session = window.session
    height = session.picture.height
    window.stage.tools.show_popup()
    popup = window.stage.tools.popup
    assert popup is not None
    QTest.mouseClick(popup.axes[(1.0, 0.0, 0.0)], LEFT)
    popup.hide()
    qtbot.waitUntil(lambda: not session.stale and looked_at(window), timeout=LONG_MS)
    assert session.picture.height != pytest.approx(height, abs=0.5)
    assert session.undo_name == "Turn right (+X) to the plate"
    session.undo()
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    assert session.picture.height == pytest.approx(height)


def test_a_plan_is_saved_and_opened_again_with_its_vents(
    opened: Opened, qtbot: QtBot, bells: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = opened(bells)
    session = window.session
    session.accept(session.proposals[0].id)
    plan = tmp_path / "bells.ventplan"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(plan), ""))
    with qtbot.waitSignal(session.saved, timeout=LONG_MS):
        QTest.keyClick(window, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert not session.is_unsaved
    assert str(plan) in window.files.recent
    vents = session.plan.vents
    session.close_part()
    opened(plan)
    assert session.plan.vents == vents
    assert not window.isWindowModified()
