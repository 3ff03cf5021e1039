"""The pour plan is worked out when it is asked for, for each plan, and can be cancelled."""

from __future__ import annotations

import pytest
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, opened_, part_, session_, settle  # noqa: F401  fixtures

from ventplanner.app.holding import told_of
from ventplanner.app.pouring import HANGING, STANDING
from ventplanner.ui.session import Session


def test_it_follows_the_plan_as_long_as_somebody_looks(opened: Session, qtbot: QtBot) -> None:
    settle(qtbot, opened)
    assert opened.poured is None
    assert opened.job is None or opened.job.name != "Draining in thought"
    opened.watch_pour(True)
    qtbot.waitUntil(lambda: opened.poured is not None, timeout=MOST_MS)
    before = opened.poured
    assert before is not None
    assert not opened._pouring.is_busy  # once is enough
    assert before.done.left > 0.9 * before.done.full  # nothing gets out of two sealed cavities
    assert len(before.scenes) == len(before.done.steps)
    opened.accept_all()
    assert opened.poured is None  # what was known is not that of this plan
    qtbot.waitUntil(lambda: opened.poured is not None, timeout=MOST_MS)
    after = opened.poured
    assert after is not None
    assert after.done.left < 0.1 * after.done.full
    assert any(scene.streams for scene in after.scenes)
    opened.undo()
    assert opened.poured is before
    opened.watch_pour(False)
    settle(qtbot, opened)


def test_what_was_cancelled_is_not_begun_again_unasked(opened: Session, qtbot: QtBot) -> None:
    settle(qtbot, opened)
    opened.watch_pour(True)
    qtbot.waitUntil(lambda: opened._pouring.is_busy, timeout=MOST_MS)
    opened.cancel_pour()
    assert opened.is_pour_given_up
    assert not opened._pouring.is_busy
    opened.changed.emit()
    assert not opened._pouring.is_busy
    opened.watch_pour(True)
    qtbot.waitUntil(lambda: opened.poured is not None, timeout=MOST_MS)
    assert not opened.is_pour_given_up


def test_what_would_help_is_taken_as_one_edit(opened: Session, qtbot: QtBot) -> None:
    settle(qtbot, opened)
    for proposal in opened.proposals:
        if proposal.cavity == "B":
            opened.set_aside_proposal(proposal.id)
    opened.watch_pour(True)
    qtbot.waitUntil(lambda: opened.poured is not None, timeout=MOST_MS)
    before = opened.poured
    assert before is not None
    opened.look_for_help()
    assert opened.is_help_coming
    opened.cancel_help()
    assert not opened.is_help_coming
    opened.look_for_help()
    qtbot.waitUntil(lambda: opened.helps is not None, timeout=MOST_MS)
    helps = opened.helps
    assert helps
    assert {len(each.vents) for each in helps} == {2}  # one hole alone lets nothing out of a sealed cavity
    assert sorted(each.is_offered for each in helps) == [False, True]  # what is proposed for A, and new ones for B
    helps = tuple(sorted(helps, key=lambda each: each.is_offered))
    opened.take_help(helps[0])
    assert len(opened.plan.vents) == 2
    assert opened.undo_name is not None
    assert "to drain more" in opened.undo_name
    assert opened.helps is None  # that was said of another plan
    opened.take_help(helps[1])
    assert len(opened.plan.vents) == 2  # found for another plan: refused
    qtbot.waitUntil(lambda: opened.poured is not None, timeout=MOST_MS)
    after = opened.poured
    assert after is not None
    assert after.done.left < 0.6 * before.done.left  # two hollows of the same size
    opened.look_for_help()
    opened.undo()
    assert opened.plan.vents == ()
    assert set(opened.helps or ()) == set(helps)
    assert not opened.is_help_coming  # nobody waits for the other plan any more
    opened.take_help(helps[1])
    assert [vent.cavity for vent in opened.plan.vents] == ["A", "A"]
    assert opened.undo_name == "Accept 2 vents to drain more"
    assert opened.proposals == ()
    opened.undo()
    opened.watch_pour(False)
    settle(qtbot, opened)


def test_a_part_held_by_hand_goes_on_from_what_is_in_it_until_the_plan_changes(opened: Session, qtbot: QtBot) -> None:
    opened.hold(STANDING, None)
    assert opened.held is None  # nothing is known of its hollows yet
    settle(qtbot, opened)
    opened.accept_all()
    opened.watch_pour(True)
    qtbot.waitUntil(lambda: opened.poured is not None, timeout=MOST_MS)
    poured = opened.poured
    assert poured is not None
    opened.hold(STANDING, None)
    qtbot.waitUntil(lambda: opened.held is not None, timeout=MOST_MS)
    first = opened.held
    assert first is not None
    assert first.step.left + first.step.out == pytest.approx(poured.done.full)
    texts = told_of(first, opened.plan)
    assert texts[0].startswith("Held by hand, the bottom (−Z) down.")
    assert "cavity A" in texts[0]
    opened.hold(HANGING, first.step.rest)
    qtbot.waitUntil(lambda: opened.held is not first and opened.held is not None, timeout=MOST_MS)
    second = opened.held
    assert second is not None
    assert second.step.left + second.step.out == pytest.approx(first.step.left)
    assert second.skin is first.skin  # looked up once
    opened.undo()
    assert opened.held is None  # the vents are gone, and what ran through them
    opened.watch_pour(False)
    settle(qtbot, opened)
