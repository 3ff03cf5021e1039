"""In a real window: the part in one line, a cancelled analysis, and a part in which there is nothing to vent."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import bodies
import numpy as np
import pytest
import trimesh
from hollow_parts import two_bells
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QLabel
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.test_window_main_job import spot

from ventplanner import resources
from ventplanner.geometry.pose import Pose
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier
Opened = Callable[[Path | str], MainWindow]


def test_the_line_on_top_follows_the_plan_also_while_a_vent_is_dragged(opened: Opened, qtbot: QtBot) -> None:
    window = opened(resources.sample("lighthouse"))
    session, view = window.session, window.stage.view
    assert view is not None
    assert window.verdict.isVisible()
    assert (window.verdict.word, window.verdict.sentence) == ("sealed", "4 cavities: all are sealed.")
    QTest.keyClick(window, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    assert (window.verdict.word, window.verdict.sentence) == ("breathes", "4 cavities: all breathe.")
    session.undo()

    # Drag a ghost of one cavity upwards: the line says by how much too late it opens, before the button is let go.
    ghost = next(v for v in session.proposals if v.cavity == "C")
    start = spot(window, f"proposal {ghost.id}")
    target = view.childAt(start) or view
    seen = []
    QTest.mousePress(target, LEFT, NONE, target.mapFrom(view, start))
    for step in range(1, 16):
        QTest.mouseMove(target, target.mapFrom(view, start - QPoint(0, step * 2)))
        qtbot.wait(60)
        seen.append(window.verdict.sentence)
    assert any("C breathes" in text or "C opens" in text for text in seen)
    assert any("C opens" in text and "mm too late" in text for text in seen)
    QTest.mouseRelease(target, LEFT, NONE, target.mapFrom(view, start - QPoint(0, 30)))
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    assert "C opens" in window.verdict.sentence
    session.undo()


def test_a_cancelled_analysis_says_what_is_shown_and_offers_to_begin_again(
    opened: Opened, qtbot: QtBot, bells: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = opened(bells)
    session = window.session
    real = session._analyst._analyse

    def slow(state: object, progress: Callable[[str, float], None]) -> object:
        end = time.monotonic() + 8.0
        while time.monotonic() < end:
            progress("Casting columns", 1.0 - (end - time.monotonic()) / 8.0)
            time.sleep(0.02)
        return real(state, progress)  # type: ignore[arg-type]

    monkeypatch.setattr(session._analyst, "_analyse", slow)
    session.set_pose(Pose(to_plate=(0.0, 1.0, 0.0)))
    qtbot.waitUntil(window.busy.cancel.isVisible, timeout=LONG_MS)
    assert window.verdict.word == "not known yet"
    shown: list[str] = []
    qtbot.waitUntil(
        lambda: bool(shown.append(_text(window.busy)) or "s left" in shown[-1]),  # type: ignore[func-returns-value]
        timeout=LONG_MS,
    )
    assert "Analysing: casting columns" in shown[-1]
    assert "%" in shown[-1]
    QTest.mouseClick(window.busy.cancel, LEFT)
    assert window.verdict.word == "not known"
    assert (
        window.verdict.sentence
        == "The analysis was cancelled: the part is shown as it was before “Turn back (+Y) to the plate”."
    )
    assert "analyse it again, or undo the last change" in _text(window.todo)
    assert not window.todo.export.isEnabled()
    assert window.todo.again.isVisible()
    qtbot.wait(300)
    assert session.job is None

    monkeypatch.setattr(session._analyst, "_analyse", real)
    QTest.mouseClick(window.todo.again, LEFT)
    qtbot.waitUntil(lambda: not session.stale and looked_at(window), timeout=LONG_MS)
    assert session.findings is not None
    assert session.findings.pose.to_plate == (0.0, 1.0, 0.0)
    assert not window.todo.again.isVisible()
    assert window.todo.export.isEnabled()


def test_a_solid_part_has_no_shining_export(opened: Opened, bells: Path, tmp_path: Path) -> None:
    bodies.box(12).export(tmp_path / "block.stl")
    window = opened(tmp_path / "block.stl")
    assert window.verdict.word == "nothing to vent"
    assert window.todo.export.property("kind") == ""
    assert window.todo.export.isEnabled()  # who wants the file in another format may have it
    card = _text(window.card)
    assert "Part, Hollow the part" in card  # the way out
    again = opened(bells)
    assert again.todo.export.property("kind") == "primary"
    assert "Hollow the part" not in _text(again.card)


def test_a_solid_part_with_crevices_in_its_skin_is_offered_to_be_hollowed(opened: Opened) -> None:
    window = opened(resources.sample("bollard"))
    assert window.session.findings is not None
    assert window.session.findings.cups.filtered_count > 0
    assert window.todo.hollow.isVisible()
    assert "Part, Hollow the part" in _text(window.card)


def test_the_place_of_a_damage_is_shown_in_the_view(opened: Opened, qtbot: QtBot, tmp_path: Path) -> None:
    whole = two_bells()
    torn = trimesh.Trimesh(whole.vertices, np.delete(whole.faces, 40, axis=0), process=False)
    torn.export(tmp_path / "torn.stl")
    window = opened(tmp_path / "torn.stl")
    view, mark = window.stage.view, window.stage.place_mark
    assert view is not None
    assert mark is not None
    note = next(n for n in window.session.findings.health if n.what == "open edges")  # type: ignore[union-attr]
    assert note.at_mm is not None
    # The printed height hides it: showing the place brings it back.
    window.stage.set_printed(0.5)
    before = view.eye.mm_per_px
    show = next(b for b in window.card.findChildren(QAbstractButton) if b.accessibleName() == "Show place: open edges")
    show.setFocus()
    QTest.keyClick(show, Qt.Key.Key_Return)
    assert mark.isVisible()
    assert mark.accessibleName() == "open edges, marked in the view"
    frame = window.session.findings.scene.frame  # type: ignore[union-attr]
    assert mark.point == pytest.approx(frame.to_build(np.array(note.at_mm)))
    assert not view.shown.is_gone(mark.point)
    assert view.eye.mm_per_px < 0.6 * before
    x, y, _ = view.eye.to_screen(mark.point)
    assert 0.2 * view.width() < x < 0.8 * view.width()
    assert 0.2 * view.height() < y < 0.8 * view.height()
    qtbot.waitUntil(lambda: not view.is_busy, timeout=LONG_MS)
    # The mark stays on its place while the view is moved, lets a click through, and goes with it.
    QTest.keyClick(view, Qt.Key.Key_Right)
    assert mark.isVisible()
    target = view.childAt(QPoint(80, 80)) or view
    assert target is not mark
    QTest.mouseClick(target, LEFT, NONE, target.mapFrom(view, QPoint(80, 80)))
    assert not mark.isVisible()


def _text(inside: object) -> str:
    labels = inside.findChildren(QLabel)  # type: ignore[attr-defined]
    return " ".join(label.text() for label in labels if label.isVisible())
