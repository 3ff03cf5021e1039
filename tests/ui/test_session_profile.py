"""A plan keeps its printer and resin, and its notes: saved, opened, undone, read again, and after a crash."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hollow_parts import ON_SIDE
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, opened_, part_, session_, settle  # noqa: F401  fixtures

from ventplanner.app.state import from_saved, to_saved
from ventplanner.io.project import load_plan, save_plan
from ventplanner.profile import PRESETS, Profile
from ventplanner.ui.journal import Journal, abandoned
from ventplanner.ui.session import Session

OWN = Profile("Harbour grey", viscosity_mpas=420.0)
USUAL = Profile("Usual", lift_speed_mm_min=33.0)


def saved(session: Session, target: Path, qtbot: QtBot) -> Path:
    with qtbot.waitSignal(session.saved, timeout=MOST_MS):
        session.save(str(target))
    return target


def opened_again(session: Session, target: Path | str, qtbot: QtBot) -> None:
    with qtbot.waitSignal(session.part_changed, timeout=MOST_MS):
        session.open(str(target))
    settle(qtbot, session)


@pytest.fixture(name="plan")
def plan_(opened: Session, tmp_path: Path, qtbot: QtBot) -> Path:
    """A plan with a profile of its own; the session has the usual one again, and no part."""
    opened.set_profile(OWN)
    target = saved(opened, tmp_path / "work.ventplan", qtbot)
    opened.close_part()
    opened.set_usual_profile(USUAL)
    return target


def test_a_part_begins_with_the_usual_profile(session: Session, part: str, qtbot: QtBot) -> None:
    session.set_usual_profile(USUAL)
    assert session.profile == USUAL
    opened_again(session, part, qtbot)
    assert session.profile == USUAL
    assert session.state is not None
    assert session.state.profile == USUAL
    assert not session.is_unsaved


def test_a_plan_is_worked_on_with_its_own_profile_and_other_parts_with_the_usual_one(
    session: Session, plan: Path, part: str, qtbot: QtBot
) -> None:
    assert load_plan(plan).profile == OWN
    assert session.profile == USUAL
    opened_again(session, plan, qtbot)
    assert (session.profile, session.is_unsaved) == (OWN, False)
    qtbot.waitUntil(lambda: session.is_flow_known, timeout=MOST_MS)
    assert session.breathing is not None
    assert session.breathing.after.profile == OWN
    session.set_usual_profile(PRESETS[1])  # the plan at hand has its own
    assert session.profile == OWN
    opened_again(session, part, qtbot)
    assert session.profile == PRESETS[1]
    session.close_part()
    assert session.profile == PRESETS[1]


def test_a_plan_of_an_earlier_version_is_worked_on_with_the_usual_profile(
    session: Session, plan: Path, qtbot: QtBot
) -> None:
    save_plan(plan, replace(load_plan(plan), profile=None), overwrite=True)
    opened_again(session, plan, qtbot)
    assert (session.profile, session.is_unsaved) == (USUAL, False)
    saved(session, plan, qtbot)
    assert load_plan(plan).profile == USUAL


def test_another_profile_is_unsaved_work_that_is_undone_by_name(opened: Session, tmp_path: Path, qtbot: QtBot) -> None:
    opened.accept_all()
    target = saved(opened, tmp_path / "work.ventplan", qtbot)
    findings, before = opened.findings, opened.profile
    opened.set_profile(OWN)
    assert (opened.is_unsaved, opened.undo_name, opened.profile) == (True, "Use profile Harbour grey", OWN)
    assert opened.findings is findings  # nothing of the part has to be looked at again
    assert not opened.stale
    opened.undo()
    assert (opened.is_unsaved, opened.profile) == (False, before)
    opened.redo()
    assert (opened.is_unsaved, opened.profile) == (True, OWN)
    saved(opened, target, qtbot)
    assert not opened.is_unsaved
    opened.set_profile(OWN)  # the same again is no edit
    assert (opened.is_unsaved, opened.names.count("Use profile Harbour grey")) == (False, 1)


def test_a_plan_that_is_read_again_brings_its_profile(opened: Session, tmp_path: Path, qtbot: QtBot) -> None:
    target = saved(opened, tmp_path / "work.ventplan", qtbot)
    before = opened.profile
    with qtbot.waitSignal(opened.file_changed, timeout=MOST_MS):
        other = from_saved(load_plan(target))
        save_plan(target, to_saved(replace(other, profile=OWN)), overwrite=True)
    with qtbot.waitSignal(opened.plan_changed, timeout=MOST_MS):
        opened.reload(str(target))
    assert (opened.profile, opened.is_unsaved) == (OWN, False)
    opened.undo()
    assert (opened.profile, opened.is_unsaved) == (before, True)
    with qtbot.waitSignal(opened.file_changed, timeout=MOST_MS):
        save_plan(target, to_saved(replace(other, profile=None)), overwrite=True)
    with qtbot.waitSignal(opened.changed, timeout=MOST_MS):
        opened.reload(str(target))
    qtbot.waitUntil(lambda: not opened.is_unsaved, timeout=MOST_MS)
    assert opened.profile == before  # an earlier version's plan says nothing about it


def test_after_a_crash_the_profile_is_there_again(session: Session, opened: Session, tmp_path: Path) -> None:
    opened.set_profile(OWN)
    opened.shutdown(keep_unsaved=True)
    (found,) = abandoned(tmp_path / "journal")
    assert opened.state is not None
    assert found.state_for(opened.state.solid).profile == OWN


def test_work_of_a_crash_is_gone_on_with_under_its_profile(
    opened: Session, part: str, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.set_profile(OWN)
    opened.shutdown(keep_unsaved=True)
    (found,) = abandoned(tmp_path / "journal")
    second = Session(workers=0, journal=Journal(tmp_path / "journal"))
    second.set_usual_profile(USUAL)
    with qtbot.waitSignal(second.part_changed, timeout=MOST_MS):
        second.recover(found)
    assert (second.profile, second.is_unsaved) == (OWN, True)
    second.shutdown()


def test_the_note_of_a_cavity_left_alone_outlives_saving_opening_and_hanging_otherwise(
    opened: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    assert opened.findings is not None
    notes = {cavity.id: f"why {cavity.id}" for cavity in opened.findings.cavities}
    for cavity, note in notes.items():
        opened.leave_alone(cavity, note)
    target = saved(opened, tmp_path / "work.ventplan", qtbot)
    opened_again(opened, target, qtbot)
    assert dict(opened.plan.left_alone) == notes
    opened.set_pose(ON_SIDE)
    settle(qtbot, opened)
    assert sorted(note for _, note in opened.plan.left_alone) == sorted(notes.values())
    saved(opened, target, qtbot)
    opened_again(opened, target, qtbot)
    opened.set_pose(type(ON_SIDE)())
    settle(qtbot, opened)
    assert dict(opened.plan.left_alone) == notes
    assert not opened.proposals
