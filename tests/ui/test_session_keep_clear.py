"""The surface to be kept clear in a session: what drops it, and what keeps it over a crash."""

from __future__ import annotations

from pathlib import Path

from hollow_parts import two_bells
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, part_, session_  # noqa: F401 - fixtures

from ventplanner.geometry.face_mask import FaceMask
from ventplanner.io.meshes import write
from ventplanner.ui.journal import abandoned
from ventplanner.ui.session import Session


def test_another_mesh_drops_the_marks_and_says_so(session: Session, part: str, qtbot: QtBot) -> None:
    session.open(part)
    qtbot.waitUntil(lambda: session.findings is not None and session.is_settled, timeout=MOST_MS)
    count = len(two_bells().faces)
    session.mark(FaceMask.at(count, [0, 5]), "Keep clear")
    assert session.keep_clear is not None
    other = two_bells()
    write(other.with_mesh(other.vertices, other.faces[::-1]), Path(part), overwrite=True)
    with qtbot.waitSignal(session.said, timeout=MOST_MS, check_params_cb=lambda text: "kept clear" in text):
        session.reload()
    assert session.keep_clear is None
    session.undo()
    assert session.keep_clear == FaceMask.at(count, [0, 5])


def test_marks_are_written_down_after_each_edit(session: Session, part: str, qtbot: QtBot, tmp_path: Path) -> None:
    session.open(part)
    qtbot.waitUntil(lambda: session.findings is not None and session.is_settled, timeout=MOST_MS)
    marks = FaceMask.at(len(two_bells().faces), [3, 4, 100])
    session.mark(marks, "Keep clear")
    session.shutdown(keep_unsaved=True)
    (left,) = abandoned(tmp_path / "journal")
    assert session.state is not None
    assert left.state_for(session.state.solid).keep_clear == marks
