"""What goes wrong, in a real window: broken and solid files, cancelled and refused exports."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import bodies
import pytest
import trimesh
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at

from ventplanner import resources
from ventplanner.ui.dialogs.questions import Question
from ventplanner.ui.session import Session
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
Opened = Callable[[Path | str], MainWindow]


def question() -> Question | None:
    return next((w for w in QApplication.topLevelWidgets() if isinstance(w, Question) and w.isVisible()), None)


def asked(qtbot: QtBot) -> str:
    """The text of the dialog that appears, which is closed."""
    qtbot.waitUntil(lambda: question() is not None, timeout=LONG_MS)
    found = question()
    assert found is not None
    text = f"{found.accessibleName()}\n{found.accessibleDescription()}"
    QTest.keyClick(found, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: question() is None)
    return text


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("nothing.stl", b"", "nothing.stl"),
        ("torn.stl", b"\0" * 80 + (1000).to_bytes(4, "little") + b"\0" * 70, "torn.stl"),
        ("letter.3mf", b"Dear museum, the seals have arrived.", "letter.3mf"),
        ("work.ventplan", b"PK\3\4 not quite", "work.ventplan"),
    ],
)
def test_a_broken_file_is_refused_with_its_name(
    real: MainWindow, qtbot: QtBot, tmp_path: Path, name: str, content: bytes, said: str
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    real.files.open(str(path))
    text = asked(qtbot)
    assert text.startswith("The file was not opened")
    assert said in text
    assert real.session.state is None
    assert real.pages.currentWidget() is real.welcome


def test_a_broken_file_leaves_the_open_part_as_it_is(opened: Opened, qtbot: QtBot, bells: Path, tmp_path: Path) -> None:
    window = opened(bells)
    (tmp_path / "torn.stl").write_bytes(b"solid torn")
    window.files.open(str(tmp_path / "torn.stl"))
    assert "torn.stl" in asked(qtbot)
    assert window.session.path == str(bells)
    assert window.session.findings is not None


def test_a_solid_part_says_that_there_is_nothing_to_vent(opened: Opened, tmp_path: Path) -> None:
    bodies.box(12).export(tmp_path / "block.stl")
    window = opened(tmp_path / "block.stl")
    assert window.todo.sentences == ()
    assert window.session.findings is not None
    assert window.session.findings.cavities == ()
    assert "there is nothing to vent" in " ".join(found.text() for found in window.todo.findChildren(QLabel))


def test_an_export_is_cancelled_and_nothing_is_written(opened: Opened, qtbot: QtBot, tmp_path: Path) -> None:
    window = opened(resources.sample("lighthouse"))
    session = window.session
    session.accept_all()
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    out = tmp_path / "vented.stl"
    session.export(str(out))
    qtbot.waitUntil(lambda: session.job is not None and session.job.name == "Exporting", timeout=LONG_MS)
    qtbot.waitUntil(window.busy.cancel.isVisible, timeout=LONG_MS)
    QTest.mouseClick(window.busy.cancel, LEFT)
    qtbot.waitUntil(lambda: session.job is None or session.job.name != "Exporting", timeout=LONG_MS)
    qtbot.wait(300)
    assert list(tmp_path.iterdir()) == []
    assert question() is None
    assert window.may_export
    with qtbot.waitSignal(session.exported, timeout=LONG_MS):
        session.export(str(out))
    assert session.last_export is not None
    assert session.last_export.verified


def test_an_export_into_a_folder_that_is_not_there_is_refused(
    opened: Opened, qtbot: QtBot, bells: Path, tmp_path: Path
) -> None:
    window = opened(bells)
    window.session.export(str(tmp_path / "nowhere" / "out.stl"))
    text = asked(qtbot)
    assert text.startswith("The part was not exported")
    assert "nowhere" in text


def test_a_file_changed_on_disk_is_noticed_and_read_again(opened: Opened, qtbot: QtBot, tmp_path: Path) -> None:
    path = tmp_path / "ball.stl"
    _hollow(20).export(path)
    window = opened(path)
    width = window.session.state.solid.bounds[1][0] * 2
    _hollow(24).export(path)
    qtbot.waitUntil(lambda: bool(window.notices.texts), timeout=LONG_MS)
    assert "ball.stl was changed on disk" in window.notices.texts[0]
    again = next(b for b in window.notices.findChildren(QAbstractButton) if b.text() == "Read it again")
    QTest.mouseClick(again, LEFT)
    qtbot.waitUntil(lambda: window.session.undo_name == "Read the file again" and looked_at(window), timeout=LONG_MS)
    assert window.session.state.solid.bounds[1][0] * 2 == pytest.approx(width + 4)
    assert window.notices.texts == ()


def _hollow(size: float) -> trimesh.Trimesh:
    return trimesh.util.concatenate([bodies.box(size), bodies.inward(bodies.box(size - 6))])


def test_work_that_was_interrupted_is_offered_when_its_part_is_opened(
    opened: Opened, qtbot: QtBot, tmp_path: Path
) -> None:
    part = tmp_path / "buoy.stl"
    trimesh.util.concatenate((bodies.box(20.0), bodies.inward(bodies.box(16.0)))).export(part)
    before = Session(workers=0)
    before.open(str(part))
    qtbot.waitUntil(lambda: bool(before.proposals), timeout=LONG_MS)
    before.accept_all()
    before.shutdown(keep_unsaved=True)
    window = opened(part)
    assert window.session.plan.vents == ()
    qtbot.waitUntil(lambda: "interrupted" in _notices(window), timeout=LONG_MS)
    go_on = next(b for b in window.notices.findChildren(QAbstractButton) if b.text() == "Go on")
    QTest.mouseClick(go_on, LEFT)
    qtbot.waitUntil(lambda: looked_at(window) and bool(window.session.plan.vents), timeout=LONG_MS)
    assert "interrupted" not in _notices(window)


def _notices(window: MainWindow) -> str:
    return " ".join(label.text() for label in window.notices.findChildren(QLabel) if not label.isHidden())
