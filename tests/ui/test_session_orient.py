"""Orientations are looked for when asked for, kept when the part is turned, and never applied unasked."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, opened_, part_, session_, settle  # noqa: F401  fixtures

from ventplanner.analysis.findings import Findings
from ventplanner.app import orientations
from ventplanner.app.state import AppState
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.support_file import Supports
from ventplanner.options import VentRules
from ventplanner.orienting.model import Candidate, Figures, Map, Search
from ventplanner.profile import Profile
from ventplanner.progress import Progress
from ventplanner.ui.session import Session

FIGURES = Figures(2, 0, None, None, 0.0, 0.0, None, None, 0, 0.0, 20.0, 100.0)
SIDE, OTHER = Pose((1.0, 0.0, 0.0)), Pose((0.0, 0.0, 1.0))


class Engine:
    """A search that ends when it is let go; it counts how often it is begun, and which poses are worked out apart."""

    def __init__(self) -> None:
        self.begun = 0
        self.poses: list[Pose] = []
        self.go = threading.Event()
        self.go.set()

    def __call__(self, _findings: Findings, state: AppState, _profile: Profile, progress: Progress) -> Search:
        self.begun += 1
        while not self.go.wait(0.01):
            progress("Trying directions", 0.5)
        now = Candidate(state.pose, FIGURES)
        found = Map(np.array([SIDE.to_plate]), {"vents": np.array([2.0])}, np.array([True]))
        return Search(now, (Candidate(SIDE, FIGURES),), found, np.zeros((0, 3)))

    def work_out(self, findings: Findings, state: AppState, _profile: Profile) -> Candidate:
        assert findings.pose == state.pose
        self.poses.append(state.pose)
        return Candidate(state.pose, replace(FIGURES, unserved=int(state.supports is not None)))


@pytest.fixture
def engine(monkeypatch: pytest.MonkeyPatch) -> Iterator[Engine]:
    made = Engine()
    monkeypatch.setattr(orientations, "look_for", made)
    monkeypatch.setattr(orientations, "work_out", made.work_out)
    yield made
    made.go.set()


def test_what_was_found_stays_when_the_part_is_turned_and_turns_nothing(
    opened: Session, engine: Engine, qtbot: QtBot
) -> None:
    settle(qtbot, opened)
    assert opened.orientations is None
    assert engine.begun == 0
    opened.look_for_orientations()
    assert opened.are_orientations_coming
    qtbot.waitUntil(lambda: opened.orientations is not None, timeout=MOST_MS)
    found, state = opened.orientations, opened.state
    assert state is not None
    assert state.pose == Pose()
    assert opened.undo_name is None
    assert not opened.are_orientations_coming

    opened.set_pose(SIDE)
    assert opened.orientations is found
    settle(qtbot, opened)
    opened.look_for_orientations()
    assert not opened.are_orientations_coming  # it is known
    opened.set_rules(VentRules(diameter_mm=3.3))
    assert opened.orientations is None
    opened.undo()
    assert opened.orientations is found
    opened.set_profile(replace(opened.profile, suction_limit_kpa=9.0))
    assert opened.orientations is None
    settle(qtbot, opened)
    assert engine.begun == 1


def test_a_search_is_cancelled_and_one_for_other_options_is_dropped(
    opened: Session, engine: Engine, qtbot: QtBot
) -> None:
    settle(qtbot, opened)
    said = counted(opened.said)
    engine.go.clear()
    opened.look_for_orientations()
    qtbot.waitUntil(lambda: opened.job is not None and opened.job.name == "Looking for an orientation")
    opened.cancel()
    assert not opened.are_orientations_coming
    assert said[-1] == ("Looking for an orientation was cancelled. The part hangs as before.",)
    opened.changed.emit()
    assert opened.job is None  # not begun again unasked

    opened.look_for_orientations()
    qtbot.waitUntil(lambda: engine.begun == 2, timeout=MOST_MS)
    opened.set_rules(VentRules(diameter_mm=3.3))
    assert not opened.are_orientations_coming
    engine.go.set()
    settle(qtbot, opened)
    assert opened.orientations is None
    opened.look_for_orientations()
    qtbot.waitUntil(lambda: opened.orientations is not None, timeout=MOST_MS)
    assert engine.begun == 3


def test_a_search_that_is_asked_for_during_the_analysis_begins_after_it(
    opened: Session, engine: Engine, qtbot: QtBot
) -> None:
    settle(qtbot, opened)
    opened.set_pose(SIDE)
    assert opened.stale
    opened.look_for_orientations()
    assert engine.begun == 0
    assert opened.are_orientations_coming
    qtbot.waitUntil(lambda: opened.orientations is not None, timeout=MOST_MS)
    settle(qtbot, opened)


def test_as_long_as_somebody_looks_the_orientation_that_the_part_has_is_worked_out(
    opened: Session, engine: Engine, qtbot: QtBot
) -> None:
    settle(qtbot, opened)
    opened.look_for_orientations()
    qtbot.waitUntil(lambda: opened.present_orientation is not None, timeout=MOST_MS)
    opened.set_pose(SIDE)  # in the short list: known
    assert opened.present_orientation is opened.orientations.candidates[0]  # type: ignore[union-attr]
    opened.set_pose(OTHER)
    assert opened.present_orientation is None
    qtbot.waitUntil(lambda: opened.present_orientation is not None, timeout=MOST_MS)
    assert opened.present_orientation == Candidate(OTHER, FIGURES)
    opened.undo()
    opened.redo()
    assert opened.present_orientation == Candidate(OTHER, FIGURES)
    settle(qtbot, opened)
    assert engine.poses == [OTHER]
    opened.stop_orienting()
    opened.set_pose(replace(OTHER, on="plate"))
    settle(qtbot, opened)
    assert engine.poses == [OTHER]  # nobody looks


def test_what_is_listed_has_no_supports_so_with_some_the_orientation_is_worked_out_with_them(
    opened: Session, engine: Engine, qtbot: QtBot
) -> None:
    assert opened.state is not None
    opened._take_supports(Supports("stand.stl", "digest", opened.state.solid), opened.state.solid)
    settle(qtbot, opened)
    opened.look_for_orientations()
    qtbot.waitUntil(lambda: opened.orientations is not None, timeout=MOST_MS)
    assert opened.present_orientation == opened.orientations.present  # type: ignore[union-attr]  # it counts them
    opened.set_pose(SIDE)
    qtbot.waitUntil(lambda: opened.present_orientation is not None, timeout=MOST_MS)
    assert opened.present_orientation == Candidate(SIDE, replace(FIGURES, unserved=1))
    assert engine.poses == [SIDE]
    now = orientations.now_in(opened.orientations, opened.state, opened.present_orientation)  # type: ignore[arg-type]
    assert (now.coarse, now.number, now.values["unserved"]) == (False, 0, 1.0)
    found = opened.orientations
    assert "The supports in stand.stl are" in orientations.about_supports(found, opened.state)  # type: ignore[arg-type]
    both = orientations.about_supports(replace(found, is_bare=True), opened.state)  # type: ignore[type-var]
    assert "its own file and stand.stl" in both
