"""Files that other programs change while a session works with them, and saves that follow each other at once."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hollow_parts import two_bells
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, opened_, part_, session_, settle  # noqa: F401  fixtures

from ventplanner.app import edits
from ventplanner.app.state import from_saved, to_saved
from ventplanner.errors import FileWriteError
from ventplanner.io import project
from ventplanner.io.meshes import write
from ventplanner.io.project import load_plan, save_plan
from ventplanner.ui.session import Session

NOTHING_MS = 900
"""Longer than a change on disk takes to be told."""


def saved_as(session: Session, target: Path, qtbot: QtBot) -> None:
    with qtbot.waitSignal(session.saved, timeout=MOST_MS):
        session.save(str(target))


def changed_by_another(target: Path, mm: float) -> None:
    """Another window saves the plan with another depth of its first vent."""
    state = from_saved(load_plan(target))
    time.sleep(0.02)  # the file system's clock is coarse
    save_plan(target, to_saved(edits.set_depth(state, state.plan.vents[0].id, mm).state), overwrite=True)


def test_a_plan_that_another_window_changed_is_told_and_read_again_as_a_whole(
    opened: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    target = tmp_path / "work.ventplan"
    told = counted(opened.file_changed)
    saved_as(opened, target, qtbot)
    saved_as(opened, target, qtbot)
    qtbot.wait(NOTHING_MS)
    assert told == []  # what the session writes itself is no news
    opened.remove(opened.plan.vents[-1].id)
    before = opened.plan
    with qtbot.waitSignal(opened.file_changed, timeout=MOST_MS):
        changed_by_another(target, 1.7)
    assert told == [(str(target),)]
    assert opened.plan == before
    with qtbot.waitSignal(opened.plan_changed, timeout=MOST_MS):
        opened.reload(str(target))
    settle(qtbot, opened)
    assert opened.plan.vents[0].beyond_mm == 1.7
    assert len(opened.plan.vents) == len(before.vents) + 1
    assert (opened.undo_name, opened.is_unsaved) == ("Read the plan again", False)
    opened.undo()
    assert (opened.plan, opened.is_unsaved) == (before, True)
    qtbot.wait(NOTHING_MS)
    assert len(told) == 1


def test_an_opened_plan_is_read_again_with_what_was_decided_in_it(
    opened: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.accept_all()
    target = tmp_path / "work.ventplan"
    saved_as(opened, target, qtbot)
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.open(str(target))
    settle(qtbot, opened)
    with qtbot.waitSignal(opened.file_changed, timeout=MOST_MS):
        changed_by_another(target, 1.3)
    with qtbot.waitSignal(opened.plan_changed, timeout=MOST_MS):
        opened.reload()
    settle(qtbot, opened)
    assert opened.plan.vents[0].beyond_mm == 1.3
    # Nothing has changed since: what is decided now is not taken back by reading the same again.
    opened.set_depth(opened.plan.vents[0].id, 2.0)
    opened.reload()
    qtbot.waitUntil(lambda: opened.job is None, timeout=MOST_MS)
    settle(qtbot, opened)
    assert opened.plan.vents[0].beyond_mm == 2.0


def test_a_plan_with_another_part_brings_that_part(opened: Session, tmp_path: Path, qtbot: QtBot) -> None:
    opened.accept_all()
    target = tmp_path / "work.ventplan"
    saved_as(opened, target, qtbot)
    solid = two_bells()
    other = replace(from_saved(load_plan(target)), solid=replace(solid, vertices=solid.vertices * 1.5))
    with qtbot.waitSignal(opened.file_changed, timeout=MOST_MS):
        time.sleep(0.02)
        save_plan(target, to_saved(edits.take_up(other, "A").state), overwrite=True)
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.reload(str(target))
    settle(qtbot, opened)
    assert opened.state is not None
    assert opened.state.solid.digest == other.solid.digest
    opened.undo()
    assert opened.state.solid.digest != other.solid.digest


def test_a_plan_that_is_broken_when_it_is_read_again_changes_nothing(
    opened: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.accept_all()
    target = tmp_path / "work.ventplan"
    saved_as(opened, target, qtbot)
    before = opened.plan
    with qtbot.waitSignal(opened.file_changed, timeout=MOST_MS):
        target.write_bytes(b"half a plan")
    with qtbot.waitSignal(opened.failed, timeout=MOST_MS) as caught:
        opened.reload(str(target))
    assert "no plan file, or is damaged" in str(caught.args[0])
    assert opened.plan == before


def test_part_and_plan_are_both_watched_and_each_change_is_told_once(
    opened: Session, part: str, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.accept_all()
    target = tmp_path / "work.ventplan"
    saved_as(opened, target, qtbot)
    told = counted(opened.file_changed)
    time.sleep(0.02)
    write(two_bells(), part, overwrite=True)
    qtbot.waitUntil(lambda: told == [(part,)], timeout=MOST_MS)
    saved_as(opened, target, qtbot)  # which tells nothing of the part again
    qtbot.wait(NOTHING_MS)
    assert told == [(part,)]


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Saving that begins only when it is let through."""
    may_begin = threading.Event()
    real: Callable[..., None] = project.save_plan

    def held(*values: Any, **more: Any) -> None:
        assert may_begin.wait(MOST_MS / 1000)
        real(*values, **more)

    monkeypatch.setattr(project, "save_plan", held)
    yield may_begin
    may_begin.set()


def test_of_three_quick_saves_the_last_is_in_the_file_and_only_then_it_is_saved(
    opened: Session, gate: threading.Event, tmp_path: Path, qtbot: QtBot
) -> None:
    target = tmp_path / "work.ventplan"
    unsaved: list[bool] = []
    opened.saved.connect(lambda _: unsaved.append(opened.is_unsaved))
    opened.accept_all()
    vent_id = opened.plan.vents[0].id
    for mm in (0.9, 1.1, 1.3):
        opened.set_depth(vent_id, mm)
        opened.save(str(target))
    gate.set()
    qtbot.waitUntil(lambda: opened.job is None and not opened.is_unsaved, timeout=MOST_MS)
    assert unsaved == [True, False]  # the first was written, the last, and never one that is not in the file
    assert load_plan(target).plan.vents[0].beyond_mm == 1.3


def test_quick_saves_under_different_names_are_all_written(
    opened: Session, gate: threading.Event, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.accept_all()
    saved = counted(opened.saved)
    targets = [tmp_path / f"work {k}.ventplan" for k in range(3)]
    for target, mm in zip(targets, (0.9, 1.1, 1.3), strict=True):
        opened.set_depth(opened.plan.vents[0].id, mm)
        opened.save(str(target))
    gate.set()
    qtbot.waitUntil(lambda: len(saved) == 3, timeout=MOST_MS)
    assert [load_plan(target).plan.vents[0].beyond_mm for target in targets] == [0.9, 1.1, 1.3]
    assert (opened.plan_path, opened.is_unsaved) == (str(targets[-1]), False)


def test_a_save_that_fails_is_told_and_the_next_one_is_carried_out(
    opened: Session, gate: threading.Event, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.accept_all()
    failures = counted(opened.failed)
    opened.save(str(tmp_path / "nowhere" / "work.ventplan"))
    opened.save(str(tmp_path / "work.ventplan"))
    gate.set()
    qtbot.waitUntil(lambda: not opened.is_unsaved, timeout=MOST_MS)
    assert isinstance(failures[0][0], FileWriteError)
    assert load_plan(tmp_path / "work.ventplan").plan.vents == opened.plan.vents


def test_what_waits_to_be_saved_is_saved_before_the_end(opened: Session, gate: threading.Event, tmp_path: Path) -> None:
    opened.accept_all()
    for k in range(3):
        opened.save(str(tmp_path / f"{k}.ventplan"))
    threading.Timer(0.2, gate.set).start()
    opened.shutdown()
    assert [load_plan(tmp_path / f"{k}.ventplan").plan.vents for k in range(3)] == [opened.plan.vents] * 3
