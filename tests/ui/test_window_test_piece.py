"""The test piece in the window: written where the user wants, asked about, and fitted to a profile with a name."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS

from ventplanner.io.meshes import read
from ventplanner.printed.calibration import SIZES_MM, test_piece
from ventplanner.ui.dialogs.naming import Naming
from ventplanner.ui.dialogs.questions import Question
from ventplanner.ui.dialogs.test_piece import NONE_OPEN, TestPieceDialog
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
test_piece.__test__ = False  # type: ignore[attr-defined]  # no test, in spite of its name


@pytest.fixture(name="dialog")
def dialog_(window: MainWindow, qtbot: QtBot) -> TestPieceDialog:
    window.actions_by_name["test_piece"].trigger()
    found = window.findChild(TestPieceDialog)
    assert found is not None
    qtbot.waitExposed(found)
    return found


def choose(dialog: TestPieceDialog, row: str, size: float) -> None:
    """As arrow keys do."""
    box = dialog.choices[row]
    box.setFocus()
    while box.currentData() != size:
        QTest.keyClick(box, Qt.Key.Key_Down)


def told(dialog: TestPieceDialog, qtbot: QtBot, text: str) -> None:
    qtbot.waitUntil(lambda: text in dialog.notes.text(), timeout=LONG_MS)


def test_what_is_open_becomes_a_profile_with_a_name_that_is_used(
    window: MainWindow, dialog: TestPieceDialog, qtbot: QtBot
) -> None:
    assert not dialog.keep.isEnabled()
    assert "at least one row" in dialog.notes.text()
    choose(dialog, "roof", 0.4)
    told(dialog, qtbot, "The light spread is ")
    choose(dialog, "back", 0.8)
    told(dialog, qtbot, "The penetration depth is ")
    told(dialog, qtbot, "The row in the floor was not looked at")
    assert dialog.keep.isEnabled()
    before = window.bench.in_use
    QTest.mouseClick(dialog.keep, LEFT)
    naming = dialog.findChild(Naming)
    assert naming is not None
    naming.field.setText("My printer, grey resin")
    QTest.mouseClick(naming.save, LEFT)
    qtbot.waitUntil(lambda: window.bench.in_use.name == "My printer, grey resin")
    assert [p.name for p in window.bench.profiles.own] == ["My printer, grey resin"]
    used = window.session.profile
    assert used.blur_mm != before.blur_mm
    assert used.penetration_mm > before.penetration_mm
    assert used.viscosity_mpas == before.viscosity_mpas
    assert not dialog.isVisible()


def test_a_row_without_an_open_hole_is_not_taken_for_a_size(dialog: TestPieceDialog) -> None:
    box = dialog.choices["roof"]
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_End)
    assert box.currentText() == NONE_OPEN
    assert "none is open" in dialog.notes.text()
    assert not dialog.keep.isEnabled()


def test_the_piece_is_written_and_replaces_a_file_only_when_that_was_agreed_to(
    dialog: TestPieceDialog, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "piece.stl"
    answers = iter([str(tmp_path / "piece"), str(tmp_path / "piece"), str(path)])
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (next(answers), ""))
    QTest.mouseClick(dialog.write, LEFT)
    qtbot.waitUntil(lambda: "is written" in dialog.written.text(), timeout=LONG_MS)
    part = read(str(path))
    assert part.bounds[1][0] - part.bounds[0][0] == pytest.approx(5.0 + 3.2 * len(SIZES_MM), abs=1e-4)
    path.write_bytes(b"mine")
    QTest.mouseClick(dialog.write, LEFT)  # the name was completed, so the file dialog has asked about another one
    qtbot.waitUntil(lambda: _question() is not None, timeout=LONG_MS)
    question = _question()
    assert question is not None
    assert "not written" in question.accessibleName()
    next(iter(question.buttons.values())).click()
    assert path.read_bytes() == b"mine"
    QTest.mouseClick(dialog.write, LEFT)  # the file dialog has asked about this very name
    qtbot.waitUntil(lambda: "is written" in dialog.written.text(), timeout=LONG_MS)
    assert len(path.read_bytes()) > 1000


def _question() -> Question | None:
    shown = [w for w in QApplication.topLevelWidgets() if isinstance(w, Question) and w.isVisible()]
    return shown[0] if shown else None


def test_everything_has_a_name_for_a_screen_reader(dialog: TestPieceDialog) -> None:
    assert all(box.accessibleName().startswith("Smallest open size: ") for box in dialog.choices.values())
    assert dialog.picture.accessibleName()
    assert dialog.write.accessibleName() == "Write the test piece"
