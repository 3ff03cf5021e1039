"""After a crash the work is there again, as it was after the last edit."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from hollow_parts import proposed, two_bells
from plan_values import vent, wedge
from pytestqt.qtbot import QtBot

from ventplanner.app import edits
from ventplanner.app.state import AppState
from ventplanner.errors import FileReadError
from ventplanner.geometry.pose import Pose
from ventplanner.io.meshes import write
from ventplanner.ui.filelock import NoLocksError, locked, remove
from ventplanner.ui.journal import Journal, abandoned, recovered
from ventplanner.ui.session import Session

MOST_MS = 20_000
STATE = edits.accept(AppState(wedge()), vent("1"), vent("2", 9.0)).state


def left_behind(folder: Path, state: AppState = STATE, path: str = "whelk.stl") -> None:
    """What a program leaves that ends without a word."""
    journal = Journal(folder)
    assert journal.write(state, path, "mm", "")
    journal.close(keep=True)


def test_the_journal_of_a_living_program_is_not_offered(tmp_path: Path) -> None:
    journal = Journal(tmp_path)
    journal.write(STATE, "whelk.stl", None, "")
    assert abandoned(tmp_path) == ()
    journal.close(keep=True)
    assert len(abandoned(tmp_path)) == 1


def test_a_regular_end_leaves_nothing(tmp_path: Path) -> None:
    journal = Journal(tmp_path)
    journal.write(STATE, "whelk.stl", None, "")
    journal.close()
    assert list(tmp_path.iterdir()) == []


def test_recovered_work_is_what_was_written_last(tmp_path: Path) -> None:
    state = edits.set_pose(STATE, Pose((0.0, 0.6, 0.8), "plate")).state
    left_behind(tmp_path, state, "harbour/whelk.stl")
    (found,) = abandoned(tmp_path)
    assert (found.entry.path, found.entry.unit, found.entry.vents) == ("harbour/whelk.stl", "mm", 2)
    again = recovered(found, wedge())
    assert (again.plan.vents, again.pose, again.proposals) == (state.plan.vents, state.pose, state.proposals)


def test_a_part_that_has_changed_is_not_mistaken_for_the_old_one(tmp_path: Path) -> None:
    left_behind(tmp_path)
    (found,) = abandoned(tmp_path)
    with pytest.raises(FileReadError, match="has changed since"):
        recovered(found, wedge(scale=2.0))


def test_the_latest_comes_first_and_discarding_removes_both_files(tmp_path: Path) -> None:
    for k in range(3):
        left_behind(tmp_path, path=f"part{k}.stl")
    for file in tmp_path.glob("*.json"):
        when = 1000.0 + int(json.loads(file.read_text())["path"][4])
        os.utime(file, (when, when))
    found = abandoned(tmp_path)
    assert [each.entry.path for each in found] == ["part2.stl", "part1.stl", "part0.stl"]
    for each in found:
        each.discard()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("text", [b"", b"{", b"[]", b"{}", b'{"format": "other/9"}', b"\xff\xfe", b"[" * 100_000])
def test_a_broken_journal_is_set_aside(tmp_path: Path, text: bytes) -> None:
    (tmp_path / "12-ab.json").write_bytes(text)
    assert abandoned(tmp_path) == ()
    assert [file.name for file in tmp_path.glob("*.broken")] == ["12-ab.broken"]
    assert abandoned(tmp_path) == ()


def test_a_folder_that_cannot_be_written_is_no_reason_to_stop(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    journal = Journal(tmp_path / "file" / "journal")
    assert not journal.write(STATE, "whelk.stl", None, "")
    journal.clear()
    journal.close()


def test_each_edit_is_in_the_journal_when_it_is_made(tmp_path: Path, qtbot: QtBot) -> None:
    part = tmp_path / "part.stl"
    write(two_bells(), part)
    journal = Journal(tmp_path / "journal")
    session = Session(workers=0, journal=journal)
    session.open(str(part))
    qtbot.waitUntil(lambda: session.findings is not None and session.is_settled, timeout=MOST_MS)
    assert not journal.path.exists()
    session.accept(session.proposals[0].id)
    assert len(json.loads(journal.path.read_text())["plan"]["vents"]) == 1
    session.accept_all()
    assert len(json.loads(journal.path.read_text())["plan"]["vents"]) == len(proposed().vents)
    session.undo()
    assert len(json.loads(journal.path.read_text())["plan"]["vents"]) == 1
    session.undo()
    assert not journal.path.exists()
    session.accept_all()
    session.shutdown(keep_unsaved=True)
    assert len(abandoned(tmp_path / "journal")) == 1


KILLED = """
    import os, signal, sys
    from PySide6.QtCore import QCoreApplication, QTimer
    from ventplanner.ui.session import Session

    app = QCoreApplication([])
    session = Session(workers=0)

    def go_on():
        if session.findings is not None and session.is_settled:
            session.accept_all()
            os.kill(os.getpid(), signal.SIGKILL)

    timer = QTimer()
    timer.timeout.connect(go_on)
    timer.start(5)
    session.open(sys.argv[1])
    app.exec()
"""


def test_work_survives_a_kill(tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VENTPLANNER_STATE_DIR", str(tmp_path / "state"))
    part = tmp_path / "part.stl"
    write(two_bells(), part)
    ran = subprocess.run([sys.executable, "-c", textwrap.dedent(KILLED), str(part)], timeout=120, check=False)
    assert ran.returncode < 0
    session = Session(workers=0)
    (found,) = session.recoverable()
    session.recover(found)
    qtbot.waitUntil(lambda: session.findings is not None and session.is_settled, timeout=MOST_MS)
    assert session.plan.vents == proposed().vents
    assert session.is_unsaved
    assert session.left == ()
    assert session.recoverable() == ()  # it is in this program's own journal now
    session.shutdown(keep_unsaved=True)
    again = Session(workers=0)
    (found,) = again.recoverable()
    part.unlink()
    with qtbot.waitSignal(again.failed, timeout=MOST_MS):
        again.recover(found)
    assert len(again.recoverable()) == 1  # not lost by a failed attempt
    again.shutdown()


def test_a_plan_of_a_newer_version_is_not_thrown_away(tmp_path: Path) -> None:
    left_behind(tmp_path)
    (file,) = tmp_path.glob("*.json")
    entry = json.loads(file.read_text())
    entry["plan"]["schema"] = "ventplanner-plan/3"
    file.write_text(json.dumps(entry))
    assert abandoned(tmp_path) == ()
    assert len(list(tmp_path.glob("*.broken"))) == 1


def settled(qtbot: QtBot, session: Session) -> None:
    qtbot.waitUntil(lambda: session.findings is not None and session.is_settled, timeout=MOST_MS)


def test_recovering_keeps_the_old_journal_until_a_new_one_is_written(
    tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VENTPLANNER_STATE_DIR", str(tmp_path / "state"))
    part = tmp_path / "part.stl"
    write(two_bells(), part)
    first = Session(workers=0)
    first.open(str(part))
    settled(qtbot, first)
    first.accept_all()
    first.shutdown(keep_unsaved=True)
    (tmp_path / "no folder").write_text("")
    second = Session(workers=0, journal=Journal(tmp_path / "no folder" / "journal"))
    (found,) = second.recoverable()
    second.recover(found)
    settled(qtbot, second)
    assert second.plan.vents
    assert len(second.recoverable()) == 1  # the only place where the work is written down
    (tmp_path / "no folder").unlink()
    second.remove(second.plan.vents[0].id)  # now it can be written
    assert second.recoverable() == ()
    second.shutdown()


def test_the_old_journal_goes_when_the_recovered_work_is_saved(tmp_path: Path) -> None:
    left_behind(tmp_path)
    (found,) = abandoned(tmp_path)
    (tmp_path / "file").write_text("")
    journal = Journal(tmp_path / "file" / "journal")
    assert not journal.write(STATE, "whelk.stl", None, "")
    journal.take_over(found)
    assert len(abandoned(tmp_path)) == 1
    journal.clear()
    assert abandoned(tmp_path) == ()


def test_locks_and_drafts_without_a_journal_are_tidied_away_but_not_those_of_the_living(tmp_path: Path) -> None:
    living, cleared = Journal(tmp_path), Journal(tmp_path)
    for journal in (living, cleared):
        assert journal.write(STATE, "whelk.stl", None, "")
    cleared.clear()  # nothing to lose, but its program runs on
    (tmp_path / "77-dead.lock").write_bytes(b"")
    (tmp_path / "77-dead.new").write_bytes(b"{")
    (tmp_path / "78-dead.new").write_bytes(b"{")
    assert abandoned(tmp_path) == ()
    assert {file.stem for file in tmp_path.iterdir()} == {living.path.stem, cleared.path.stem}
    assert cleared.write(STATE, "whelk.stl", None, "")
    assert abandoned(tmp_path) == ()
    living.close()
    cleared.close()
    assert list(tmp_path.iterdir()) == []


def test_a_journal_whose_lock_was_removed_from_under_it_gets_another_one(tmp_path: Path) -> None:
    """The instant between making a lock file and locking it, in which another window may tidy it away."""
    path = tmp_path / "a.lock"
    other = locked(path)
    assert other is not None
    assert locked(path) is None
    remove(other, path)
    mine = locked(path)
    assert mine is not None
    assert path.exists()
    assert locked(path) is None
    remove(mine, path)


MANY = """
    import sys
    from pathlib import Path
    from plan_values import vent, wedge
    from ventplanner.app import edits
    from ventplanner.app.state import AppState
    from ventplanner.ui.journal import Journal, abandoned

    state = edits.accept(AppState(wedge()), vent("1")).state
    folder = Path(sys.argv[1])
    for _ in range(60):
        journal = Journal(folder)
        assert journal.write(state, "whelk.stl", None, "")
        assert abandoned(folder) == (), "a living window's journal was taken"
        assert journal.path.exists()
        journal.close()
"""


def test_windows_that_start_and_end_all_the_time_never_take_a_journal_of_a_living_one(tmp_path: Path) -> None:
    command = [sys.executable, "-c", textwrap.dedent(MANY), str(tmp_path)]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    several = [subprocess.Popen(command, env=environment, stderr=subprocess.PIPE, text=True) for _ in range(3)]
    for each in several:
        _, said = each.communicate(timeout=120)
        assert each.returncode == 0, said
    assert list(tmp_path.iterdir()) == []


def test_a_folder_without_locks_is_written_to_and_offers_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unknown(_descriptor: int) -> bool:
        raise NoLocksError(37, "No locks available")

    monkeypatch.setattr("ventplanner.ui.filelock._try", unknown)
    journal = Journal(tmp_path)
    assert journal.write(STATE, "whelk.stl", None, "")
    assert journal.path.exists()
    assert abandoned(tmp_path) == ()
    journal.close()
