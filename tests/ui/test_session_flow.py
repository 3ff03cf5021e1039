"""The session follows how the part breathes: with each plan and profile, at leisure, and never of another plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, drag, opened_, part_, session_, settle  # noqa: F401  fixtures

from ventplanner.app.breathing import demand
from ventplanner.profile import Profile
from ventplanner.ui.session import Session


def known(qtbot: QtBot, session: Session) -> None:
    qtbot.waitUntil(lambda: session.is_flow_known, timeout=MOST_MS)


def test_accepting_a_vent_lets_the_suction_fall(opened: Session, qtbot: QtBot) -> None:
    known(qtbot, opened)
    found = opened.breathing
    assert found is not None
    assert found.after is found.before
    assert all(row.capped for row in found.before.cups)
    first = opened.proposals[0]
    opened.accept(first.id)
    assert not opened.is_flow_known  # what is shown until the answer comes is of the plan before
    known(qtbot, opened)
    after = opened.breathing
    assert after is not None
    assert after.ground is found.ground
    row = after.after.of(first.cup)
    assert row is not None
    assert not row.capped
    assert row.peak_suction < 10_000.0


def test_it_is_on_the_way_from_the_first_moment_on(session: Session, part: str, qtbot: QtBot) -> None:
    seen: list[bool] = []
    session.changed.connect(
        lambda: seen.append(session.findings is None or session.is_flow_known or session.is_flow_coming)
    )
    session.open(part)
    known(qtbot, session)
    assert all(seen)


def test_undo_finds_the_earlier_flow_at_once(opened: Session, qtbot: QtBot) -> None:
    known(qtbot, opened)
    before = opened.breathing
    opened.accept(opened.proposals[0].id)
    known(qtbot, opened)
    opened.undo()
    assert opened.is_flow_known
    assert opened.breathing is before


def test_another_profile_is_solved_anew_and_known_again_when_it_is_undone(opened: Session, qtbot: QtBot) -> None:
    opened.accept(opened.proposals[0].id)
    known(qtbot, opened)
    slow = opened.breathing
    told = counted(opened.flow_changed)
    opened.set_profile(replace(Profile(), lift_speed_mm_min=30.0))
    assert not opened.is_flow_known
    known(qtbot, opened)
    assert slow is not None
    assert opened.breathing is not None
    cup = opened.plan.vents[0].cup
    half, whole = opened.breathing.after.of(cup), slow.after.of(cup)
    assert half is not None
    assert whole is not None
    assert half.peak_suction < 0.55 * whole.peak_suction
    assert opened.undo_name == "Set lift speed to 30 mm/min"
    assert told
    opened.undo()
    assert opened.profile == Profile()
    assert opened.is_flow_known
    assert opened.breathing is slow


def test_while_a_vent_is_dragged_no_flow_is_asked_for(opened: Session, qtbot: QtBot) -> None:
    vent = opened.proposals[0]
    opened.accept(vent.id)
    known(qtbot, opened)
    x, _, z = vent.entry_mm
    for step in range(5):
        drag(opened, f"vent {vent.id}", x + 0.2 * step, z)
        assert not any(lane.is_busy for lane in opened._analyst.breathing.lanes)
    opened.drag_end()
    settle(qtbot, opened)
    known(qtbot, opened)


def test_closing_the_part_forgets_the_flow(opened: Session, qtbot: QtBot) -> None:
    known(qtbot, opened)
    opened.close_part()
    assert opened.breathing is None
    assert not opened.is_flow_known


def test_a_vent_knows_what_is_asked_of_it(opened: Session, qtbot: QtBot) -> None:
    opened.accept(opened.proposals[0].id)
    known(qtbot, opened)
    vent, found = opened.plan.vents[0], opened.breathing
    assert found is not None
    asked = demand(found, opened.plan, vent)
    assert asked.row is not None
    assert asked.diameter == vent.diameter_mm
    assert asked.is_wide_enough == (vent.diameter_mm >= asked.size.binding.diameter)
    # With the lift speed that goes with it the suction is just at the limit, but for inertia.
    opened.set_profile(replace(opened.profile, lift_speed_mm_min=min(asked.size.lift_speed, 2000.0)))
    known(qtbot, opened)
    row = opened.breathing.after.of(vent.cup)  # type: ignore[union-attr]
    assert row is not None
    assert np.isclose(row.peak_suction, 5000.0, rtol=0.25) or asked.size.lift_speed > 2000.0
