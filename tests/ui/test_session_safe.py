"""Nothing the user did is lost or changed by what comes late, by numbers that collide, or by what fails."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bodies as b
import pytest
import trimesh
from hollow_parts import ON_SIDE
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, drag, opened_, part_, session_, settle, shaped  # noqa: F401  fixtures

from ventplanner.app.state import AppState
from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal, abandoned
from ventplanner.ui.session import Session
from ventplanner.ui.work import memory
from ventplanner.ui.work.analyst import Analysed, analyse_state


@pytest.fixture
def other(tmp_path: Path) -> str:
    path = tmp_path / "float.stl"
    trimesh.util.concatenate((b.box(20.0), b.inward(b.box(16.0)))).export(path)
    return str(path)


def test_no_proposal_bears_the_number_of_an_accepted_vent(opened: Session, qtbot: QtBot) -> None:
    opened.accept(opened.proposals[0].id)
    accepted = opened.plan.vents
    opened.set_pose(ON_SIDE)
    settle(qtbot, opened)
    ids = [v.id for v in (*opened.plan.vents, *opened.proposals)]
    assert opened.proposals
    assert len(set(ids)) == len(ids)
    # Dragging a proposal places that one, and leaves the accepted vent where it is.
    word = f"proposal {opened.proposals[-1].id}"
    opened.select(word)
    drag(opened, word, -8.0, -4.0)
    shaped(qtbot, opened)
    opened.drag_end()
    assert [v.entry_mm for v in opened.plan.vents[:1]] == [v.entry_mm for v in accepted]


def test_a_drag_given_up_leaves_everything_as_it_was_even_what_was_on_its_way(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    before, names = opened.plan, opened.names
    word = f"vent {before.vents[0].id}"
    drag(opened, word, -8.0, -4.0)
    opened.drag_cancel()  # the step is still being computed
    qtbot.wait(300)
    assert (opened.plan, opened.names, opened.dragged) == (before, names, None)
    drag(opened, word, -8.0, -4.0)
    shaped(qtbot, opened)
    assert opened.plan != before
    drag(opened, word, -7.0, -4.0)
    opened.drag_cancel()
    qtbot.wait(300)
    assert (opened.plan, opened.names) == (before, names)


def test_a_step_of_a_drag_is_not_for_the_part_that_is_opened_next(opened: Session, other: str, qtbot: QtBot) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    drag(opened, f"vent {opened.plan.vents[0].id}", -8.0, -4.0)
    opened.close_part()
    opened.open(other)
    settle(qtbot, opened)
    qtbot.wait(200)
    assert (opened.plan.vents, opened.index, opened.is_unsaved) == ((), 0, False)


def test_what_was_decided_while_another_file_was_read_is_not_lost(opened: Session, other: str, qtbot: QtBot) -> None:
    failures = counted(opened.failed)
    path = opened.path
    opened.open(other)
    opened.accept_all()
    qtbot.waitUntil(lambda: bool(failures), timeout=MOST_MS)
    assert "went on meanwhile" in str(failures[0][0])
    assert (opened.path, bool(opened.plan.vents), opened.is_unsaved) == (path, True, True)


def test_nothing_is_said_to_be_known_before_it_is(opened: Session, qtbot: QtBot) -> None:
    assert opened.is_known
    opened.accept_all()
    assert not opened.is_known
    settle(qtbot, opened)
    assert opened.is_known
    opened.remove(opened.plan.vents[0].id)
    assert not opened.is_known
    settle(qtbot, opened)
    opened.undo()
    assert opened.is_known  # it was seen before


def test_the_steps_of_a_drag_are_not_all_kept(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    qtbot.waitUntil(lambda: opened.is_flow_known, timeout=20_000)
    word, before = f"vent {opened.plan.vents[0].id}", len(opened._results)
    for k in range(12):
        drag(opened, word, -12.0 + 0.4 * k, -4.0)
        shaped(qtbot, opened)
    opened.drag_end()
    settle(qtbot, opened)
    qtbot.waitUntil(lambda: opened.is_flow_known, timeout=20_000)
    assert len(opened._results) <= before + 3  # preview, flow and drilled part of the last step
    opened.undo()
    assert opened.is_known


def test_typed_numbers_that_follow_each_other_at_once_are_all_kept(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    first = opened.plan.vents[0]
    opened.set_diameter(first.id, 2.0)
    x, y, z = first.axis
    opened.set_axis(first.id, (x + 0.1, y, z + 0.05))
    shaped(qtbot, opened)
    settle(qtbot, opened)
    now = opened.plan.vents[0]
    assert now.diameter_mm == 2.0
    assert now.axis != first.axis


def test_an_analysis_that_failed_is_tried_again_with_the_file(part: str, tmp_path: Path, qtbot: QtBot) -> None:
    fails = [True]

    def analyse(state: AppState, progress: Progress) -> Analysed:
        if fails.pop(0) if fails else False:
            raise MemoryError
        return analyse_state(state, progress)

    session = Session(workers=0, journal=Journal(tmp_path / "journal"), analyse=analyse)
    failures = counted(session.failed)
    session.open(part)
    qtbot.waitUntil(lambda: bool(failures), timeout=MOST_MS)
    assert "not enough memory" in str(failures[0][0])
    assert session.findings is None
    session.close_part()
    session.open(part)
    settle(qtbot, session)
    assert session.findings is not None
    session.shutdown()


def test_the_journal_tells_the_unit_of_the_state_it_keeps(opened: Session, tmp_path: Path, qtbot: QtBot) -> None:
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.set_unit("cm")
    settle(qtbot, opened)
    opened.undo()
    settle(qtbot, opened)
    opened.accept_all()
    settle(qtbot, opened)
    opened.shutdown(keep_unsaved=True)
    (left,) = abandoned(tmp_path / "journal")
    again = Session(workers=0, journal=Journal(tmp_path / "journal"))
    again.recover(left)
    settle(qtbot, again)
    assert again.plan.vents
    again.shutdown()


def test_too_little_shared_memory_is_an_error_and_no_crash(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_fd: int, _at: int, _size: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.posix_fallocate", full)
    made: list[str] = []
    real = memory.shared_memory.SharedMemory

    def noted(*given: Any, **wishes: Any) -> memory.shared_memory.SharedMemory:
        block = real(*given, **wishes)
        made.append(block.name)
        return block

    monkeypatch.setattr(memory.shared_memory, "SharedMemory", noted)
    with pytest.raises(memory.WorkError, match="no room for 8 MB"):
        memory.Shared((("points", "<f8", (1000, 1000), 0),))
    (name,) = made
    with pytest.raises(FileNotFoundError):
        real(name=name)
