"""The session: every method returns at once, answers come as signals, and late ones are never shown."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import numpy as np
import pytest
from hollow_parts import ON_SIDE, two_bells
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, opened_, part_, session_, settle  # noqa: F401  the names that end in _ are fixtures

from ventplanner.errors import FileReadError, ParameterError, ProjectError
from ventplanner.io.meshes import write
from ventplanner.io.project import load_plan
from ventplanner.options import AnalysisOptions, VentRules
from ventplanner.progress import Progress
from ventplanner.ui.session import Session
from ventplanner.ui.work import files


def test_without_a_part_there_is_nothing_and_nothing_happens(session: Session) -> None:
    for act in (
        session.undo,
        session.redo,
        session.next_proposal,
        session.accept_all,
        session.drag_end,
        session.cancel,
    ):
        act()
    session.accept("1")
    session.export("never.stl")
    session.save("never.ventplan")
    assert (session.state, session.findings, session.picture, session.job) == (None, None, None, None)
    assert (session.left, session.proposals, session.names, session.is_unsaved) == ((), (), (), False)


def test_opening_returns_at_once_and_shows_the_part_before_its_cavities(
    session: Session, part: str, qtbot: QtBot
) -> None:
    read, may_read = session._read, threading.Event()

    def held(path: str, unit: str | None, progress: Progress) -> files.Opened:
        assert may_read.wait(MOST_MS / 1000)
        return read(path, unit, progress)

    session._read = held
    session.open(part)  # returns although nothing can have been read
    assert not may_read.is_set()
    assert session.job is not None
    assert session.job.name == "Opening"
    may_read.set()
    with qtbot.waitSignal(session.part_changed, timeout=MOST_MS):
        pass
    picture = session.picture
    assert picture is not None
    assert (len(picture.part.faces), picture.cavities, picture.stale) == (len(two_bells().faces), (), True)
    settle(qtbot, session)
    assert session.picture is not None
    assert session.picture.part.key == picture.part.key
    assert [(c.id, c.state, c.colour) for c in session.picture.cavities] == [("A", "sealed", 0), ("B", "sealed", 1)]
    assert session.job is None


def test_the_picture_tells_cavities_vents_and_areas(opened: Session) -> None:
    picture = opened.picture
    assert picture is not None
    assert picture.height == pytest.approx(20.0)
    assert [v.word for v in picture.vents] == [f"proposal {v.id}" for v in opened.proposals]
    assert [band.cavity for band in picture.bands] == ["A", "B", ""]
    assert picture.bands[0].without.max() == pytest.approx(144.0, rel=0.05)
    assert picture.bands[0].with_vents == pytest.approx(picture.bands[0].without)
    for cavity in picture.cavities:
        corners = picture.part.vertices[picture.part.faces[cavity.faces]].reshape(-1, 3)
        assert (corners.min(axis=0) <= cavity.label_at).all()
        assert (corners.max(axis=0) >= cavity.label_at).all()


def test_accepting_makes_a_cavity_breathe_and_undo_seals_it_again(opened: Session, qtbot: QtBot) -> None:
    first = next(v for v in opened.proposals if v.cavity == "A")
    opened.select(f"proposal {first.id}")
    opened.accept(first.id)
    settle(qtbot, opened)
    assert opened.selected == f"vent {first.id}"
    assert [text.text[0] for text in opened.left] == ["B"]
    assert opened.picture is not None
    assert opened.picture.cavities[0].state == "breathing"
    assert opened.picture.bands[0].with_vents.max() < 1.0
    assert (opened.undo_name, opened.is_unsaved) == (f"Accept vent {first.id}", True)
    opened.undo()
    assert opened.is_settled  # the earlier results are at hand
    assert [text.text[0] for text in opened.left] == ["A", "B"]
    assert (opened.selected, opened.is_unsaved) == (f"proposal {first.id}", False)
    opened.redo()
    assert opened.is_settled
    assert [text.text[0] for text in opened.left] == ["B"]


def test_nothing_is_left_when_all_proposals_are_accepted(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    assert opened.left == ()
    assert opened.proposals == ()
    assert opened.names[-1] == f"Accept {len(opened.plan.vents)} vents"


def test_walking_through_the_proposals_goes_round(opened: Session) -> None:
    words = [f"proposal {v.id}" for v in opened.proposals]
    walked = []
    for _ in range(len(words) + 1):
        opened.next_proposal()
        walked.append(opened.selected)
    assert walked == [*words, words[0]]
    opened.previous_proposal()
    assert opened.selected == words[-1]


def test_a_proposal_that_is_gone_is_refused_with_a_word(opened: Session) -> None:
    failures = counted(opened.failed)
    opened.accept("99")
    assert len(failures) == 1
    assert opened.undo_name is None


def test_set_aside_and_brought_back(opened: Session) -> None:
    first = opened.proposals[0]
    opened.set_aside_proposal(first.id)
    assert first not in opened.proposals
    assert opened.set_aside == (first,)
    opened.bring_back(first.id)
    assert opened.proposals[0] == first


def test_a_cavity_left_alone_is_neither_reproached_nor_offered_vents(opened: Session) -> None:
    opened.leave_alone("A", "the lamp")
    assert opened.plan.left_alone == (("A", "the lamp"),)
    assert {v.cavity for v in opened.proposals} == {"B"}
    assert [text.text[0] for text in opened.left] == ["B"]
    assert opened.picture is not None
    assert [c.left_alone for c in opened.picture.cavities] == [True, False]
    opened.take_up("A")
    assert {v.cavity for v in opened.proposals} == {"A", "B"}


def test_selecting_what_is_not_there_selects_nothing(opened: Session) -> None:
    changes = counted(opened.selection_changed)
    for word in ("cavity A", "cup B1", "vent 77", "cavity A", "nonsense"):
        opened.select(word)
    assert opened.selected == ""
    assert len(changes) == 5


def test_another_pose_names_the_vents_anew(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    before = [v.cavity for v in opened.plan.vents]
    opened.set_pose(ON_SIDE)
    assert opened.stale
    assert opened.picture is not None
    assert opened.picture.stale
    settle(qtbot, opened)
    assert [v.cavity for v in opened.plan.vents] == [{"A": "B", "B": "A"}[name] for name in before]
    assert opened.picture.height == pytest.approx(40.0)
    opened.undo()
    assert not opened.stale
    assert [v.cavity for v in opened.plan.vents] == before


def test_other_rules_bring_other_proposals_and_keep_the_findings(opened: Session, qtbot: QtBot) -> None:
    findings = opened.findings
    opened.set_rules(VentRules(diameter_mm=1.5))
    settle(qtbot, opened)
    assert opened.findings is findings
    assert {v.diameter_mm for v in opened.proposals} == {1.5}


def test_a_pitch_beyond_all_memory_is_refused(opened: Session, qtbot: QtBot) -> None:
    failures = counted(opened.failed)
    finest = AnalysisOptions(pitch_mm=0.02)
    opened.set_options(finest)  # 40 x 20 mm: two million columns are allowed
    assert failures == []
    assert (opened.undo_name, opened.stale) == ("Set pitch to 0.02 mm", True)
    opened.undo()
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.set_unit("cm")
    settle(qtbot, opened)
    before = opened.state
    opened.set_options(finest)
    ((error, what),) = failures
    assert isinstance(error, ParameterError)
    assert error.cause.endswith("needs 200 million columns for this part, about 70 GB of memory.")
    assert error.way_out == "Give 0.09 mm or more (--pitch)."
    assert what == "That was not possible"
    assert (opened.state, opened.stale, opened.undo_name) == (before, False, "Set unit to cm")


def test_saved_work_is_saved_and_opens_again(opened: Session, tmp_path: Path, qtbot: QtBot) -> None:
    opened.accept_all()
    target = tmp_path / "work.ventplan"
    with qtbot.waitSignal(opened.saved, timeout=MOST_MS):
        opened.save(str(target))
    assert not opened.is_unsaved
    assert opened.plan_path == str(target)
    assert load_plan(target).plan.vents == opened.plan.vents
    vents = opened.plan.vents
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.open(str(target))
    settle(qtbot, opened)
    assert opened.plan.vents == vents
    assert not opened.is_unsaved
    assert opened.left == ()


@pytest.mark.parametrize(("name", "error"), [("missing.stl", FileReadError), ("no.ventplan", ProjectError)])
def test_a_file_that_cannot_be_read_leaves_the_work_as_it_is(
    opened: Session, tmp_path: Path, qtbot: QtBot, name: str, error: type[Exception]
) -> None:
    if name.endswith("plan"):
        (tmp_path / name).write_bytes(b"nothing of the kind")
    path = opened.path
    with qtbot.waitSignal(opened.failed, timeout=MOST_MS) as caught:
        opened.open(str(tmp_path / name))
    assert isinstance(caught.args[0], error)
    assert opened.path == path
    assert opened.findings is not None


def test_a_changed_file_is_noticed_and_read_again_as_an_edit(opened: Session, part: str, qtbot: QtBot) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    from bodies import box, inward, solid
    from hollow_parts import fine

    one = solid(fine(box((40.0, 20.0, 20.0))), fine(inward(box(12.0, (-9.0, 0.0, -2.0)))))
    with qtbot.waitSignal(opened.file_changed, timeout=MOST_MS):
        write(one, part, overwrite=True)
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.reload()
    settle(qtbot, opened)
    assert opened.undo_name == "Read the file again"
    assert opened.findings is not None
    assert [c.id for c in opened.findings.cavities] == ["A"]
    assert {v.cavity for v in opened.plan.vents} == {"A", ""}
    assert any("leads into no cavity" in text.text for text in opened.left)
    opened.undo()
    assert opened.findings is not None
    assert len(opened.findings.cavities) == 2


def test_another_unit_scales_the_plan(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    entry = np.array(opened.plan.vents[0].entry_mm)
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.set_unit("cm")
    assert opened.plan.vents[0].entry_mm == pytest.approx(10.0 * entry)
    assert opened.undo_name == "Set unit to cm"


def test_closing_forgets_the_part(opened: Session) -> None:
    opened.accept_all()
    opened.close_part()
    assert (opened.state, opened.picture, opened.path, opened.is_unsaved) == (None, None, "", False)
    opened.undo()
    assert opened.state is None


def test_a_second_open_replaces_the_first(session: Session, part: str, tmp_path: Path, qtbot: QtBot) -> None:
    other = tmp_path / "other.stl"
    write(two_bells(), other)
    begun = counted(session.part_changed)
    session.open(part)
    session.open(str(other))
    settle(qtbot, session)
    assert session.path == str(other)
    assert len(begun) == 1


def test_a_change_while_the_file_is_read_is_noticed(session: Session, part: str, qtbot: QtBot) -> None:
    def read(path: str, unit: str | None, progress: Progress) -> files.Opened:
        opened = files.read_file(path, unit, progress)
        write(two_bells(), path, overwrite=True)
        assert opened.stamp is not None
        later = (
            opened.stamp[0] + 1_000_000_000
        )  # as large as before: its time alone tells, and clocks of files are coarse
        os.utime(path, ns=(later, later))
        return opened

    session._read = read
    with qtbot.waitSignal(session.file_changed, timeout=MOST_MS):
        session.open(part)
    settle(qtbot, session)


def test_saving_a_part_that_is_no_longer_open_does_not_touch_the_next_one(
    opened: Session, part: str, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.accept_all()
    old = opened._work_key(opened.state)  # type: ignore[arg-type]
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.open(part)
    settle(qtbot, opened)
    opened._saved(str(tmp_path / "old.ventplan"), old)
    assert opened.plan_path == ""
    assert not opened.is_unsaved
