"""The session works out how the plan prints when it is asked to, for the present plan and profile and no other."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest
from pytestqt.qtbot import QtBot
from ui.session_kit import CLOSING, COARSE, LONG_MS, coarse_, counted, drag, opened_, part_, session_, settle  # noqa: F401  fixtures

from ventplanner.analysis.findings import Findings
from ventplanner.app import printing
from ventplanner.app.printing import Printed, WayOut
from ventplanner.plan.model import Plan, Vent
from ventplanner.progress import Progress
from ventplanner.ui.session import Session


def known(qtbot: QtBot, session: Session) -> None:
    qtbot.waitUntil(lambda: session.is_printed_known, timeout=LONG_MS)


def test_nothing_is_computed_before_it_is_asked_for(coarse: Session, qtbot: QtBot) -> None:
    settle(qtbot, coarse)
    assert coarse.printed is None
    assert not coarse.is_printed_awaited
    told = counted(coarse.printed_changed)
    coarse.check_printed()
    assert coarse.is_printed_awaited
    known(qtbot, coarse)
    assert told
    assert coarse.printed is not None
    found = coarse.printed.of(coarse.plan.vents[0])
    assert found is not None
    assert 0.0 < found.printed_mm < found.nominal_mm == pytest.approx(coarse.plan.vents[0].diameter_mm)


def test_the_job_can_be_seen_and_cancelled_and_does_not_begin_again_by_itself(coarse: Session, qtbot: QtBot) -> None:
    settle(qtbot, coarse)
    qtbot.waitUntil(lambda: coarse.job is None, timeout=LONG_MS)
    said = counted(coarse.said)
    coarse.watch_printed("test", True)
    assert coarse.job is not None
    assert coarse.job.name == "Checking as printed"
    assert coarse.job.cancellable
    coarse.cancel()
    assert said == [("Cancelled: how the part prints is not known.",)]
    qtbot.wait(1500)
    assert not coarse.is_printed_awaited
    assert coarse.printed is None
    coarse.check_printed()
    known(qtbot, coarse)


def test_another_plan_is_not_known_and_undo_finds_the_first_at_once(coarse: Session, qtbot: QtBot) -> None:
    coarse.check_printed()
    known(qtbot, coarse)
    first = coarse.printed
    coarse.accept(coarse.proposals[0].id)
    assert coarse.printed is None
    qtbot.wait(900)
    assert not coarse.is_printed_awaited  # nobody looks
    coarse.undo()
    assert coarse.printed is first
    coarse.set_profile(replace(COARSE, viscosity_mpas=900.0))  # does not change the light
    assert coarse.printed is first
    coarse.set_profile(replace(COARSE, blur_mm=0.1))
    assert coarse.printed is None


def test_whoever_looks_gets_each_plan(coarse: Session, qtbot: QtBot) -> None:
    coarse.watch_printed("test", True)
    known(qtbot, coarse)
    coarse.accept(coarse.proposals[0].id)
    assert not coarse.is_printed_known
    known(qtbot, coarse)
    assert coarse.printed is not None
    assert len(coarse.printed.found.vents) == 2
    coarse.watch_printed("test", False)


def test_a_drag_asks_for_nothing_before_it_ends(coarse: Session, qtbot: QtBot) -> None:
    coarse.watch_printed("test", True)
    known(qtbot, coarse)
    word = f"vent {coarse.plan.vents[0].id}"
    for x in (-11.0, -10.0):
        drag(coarse, word, x, -3.0)
        qtbot.wait(900)
        assert not coarse.is_printed_awaited
    coarse.drag_end()
    known(qtbot, coarse)


def test_a_vent_that_prints_closed_is_left_to_do_until_it_is_wide_enough(coarse: Session, qtbot: QtBot) -> None:
    vent = coarse.plan.vents[0]
    assert not any("print closed" in left.text for left in coarse.left)
    coarse.set_profile(CLOSING)
    coarse.check_printed()
    known(qtbot, coarse)
    (left,) = [x for x in coarse.left if "print closed" in x.text]
    assert left.target == f"vent {vent.id}"
    assert left.text.startswith(f"Vent {vent.id} would print closed (")
    assert "estimate" in left.text
    qtbot.waitUntil(lambda: coarse.way_out(vent) is not None, timeout=LONG_MS)
    way = coarse.way_out(vent)
    assert way is not None
    assert way.opens_mm is not None
    assert way.as_asked_mm is not None
    assert vent.diameter_mm < way.opens_mm < way.as_asked_mm
    (left,) = [x for x in coarse.left if "print closed" in x.text]
    assert f"{way.opens_mm:.1f} mm would print open" in left.text
    coarse.set_diameter(f"vent {vent.id}", way.opens_mm)
    qtbot.waitUntil(lambda: coarse.plan.vents[0].diameter_mm == way.opens_mm, timeout=LONG_MS)
    assert not any("print closed" in x.text for x in coarse.left)  # not known of this plan yet
    coarse.check_printed()
    known(qtbot, coarse)
    assert coarse.printed is not None
    found = coarse.printed.of(coarse.plan.vents[0])
    assert found is not None
    assert found.open
    assert not any("print closed" in x.text for x in coarse.left)


def test_looking_for_sizes_can_be_cancelled_and_begun_again(
    coarse: Session, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    may_end = threading.Event()
    find = printing.way_out

    def held(found: Printed, findings: Findings, plan: Plan, vent: Vent, progress: Progress) -> WayOut:
        while not may_end.wait(0.01):
            progress("", 0.0)
        return find(found, findings, plan, vent, progress)

    monkeypatch.setattr(printing, "way_out", held)
    vent = coarse.plan.vents[0]
    coarse.set_profile(CLOSING)
    said = counted(coarse.said)
    coarse.check_printed()
    known(qtbot, coarse)
    # What is cancelled is the job that is shown, and the picture of the vents may still be cut before this one.
    sizes = "Looking for sizes that print open"
    qtbot.waitUntil(lambda: coarse.job is not None and coarse.job.name == sizes, timeout=LONG_MS)
    coarse.cancel()
    assert said == [("Cancelled: no more sizes that print open are looked for.",)]
    assert coarse.is_printed_known
    assert not coarse.is_way_out_awaited
    may_end.set()
    coarse.check_printed()
    qtbot.waitUntil(lambda: coarse.way_out(vent) is not None, timeout=LONG_MS)


def test_a_part_that_is_closed_leaves_nothing_behind(coarse: Session, qtbot: QtBot) -> None:
    coarse.check_printed()
    known(qtbot, coarse)
    coarse.close_part()
    assert coarse.printed is None
    assert not coarse.is_printed_known
