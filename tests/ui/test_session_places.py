"""Other places for a vent in a session: walked through, one step of undo, and why not just here."""

from __future__ import annotations

import numpy as np
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, opened_, part_, session_, settle

from ventplanner.app.outlook import Outlook
from ventplanner.app.state import wish_key
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.pose import Pose
from ventplanner.options import VentRules
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.ui.session import Session

__all__ = ["opened_", "part_", "session_"]


def looked(qtbot: QtBot, session: Session) -> None:
    qtbot.waitUntil(lambda: not session.is_looking, timeout=MOST_MS)
    settle(qtbot, session)


def test_a_step_from_a_proposal_accepts_it_in_another_place_and_undo_takes_it_back(
    opened: Session, qtbot: QtBot
) -> None:
    word = f"proposal {opened.proposals[-1].id}"
    before, was = wish_key(opened.state), opened.proposals[-1]  # type: ignore[arg-type]
    opened.select(word)
    opened.step_place(1)
    assert opened.is_looking
    looked(qtbot, opened)
    (vent,) = opened.plan.vents
    assert np.linalg.norm(np.subtract(vent.entry_mm, was.entry_mm)) > 1.0
    assert opened.selected == f"vent {vent.id}"
    assert "elsewhere" in (opened.undo_name or "")
    opened.undo()
    settle(qtbot, opened)
    assert wish_key(opened.state) == before  # type: ignore[arg-type]


def test_a_walk_goes_round_and_is_one_entry_of_the_history(opened: Session, qtbot: QtBot) -> None:
    opened.accept(opened.proposals[-1].id)
    settle(qtbot, opened)
    was = opened.plan.vents[0]
    opened.select(f"vent {was.id}")
    opened.look_for_places(opened.selected)
    looked(qtbot, opened)
    walk = opened.walk_of(opened.selected)
    assert walk is not None
    assert len(walk.places) >= 3
    depth = opened.index
    entries = set()
    for _ in walk.places[1:]:
        opened.step_place(1)
        entries.add(opened.plan.vents[0].entry_mm)
    assert len(entries) == len(walk.places) - 1
    assert opened.index == depth + 1
    opened.step_place(1)
    assert opened.plan.vents[0].entry_mm == was.entry_mm
    settle(qtbot, opened)


def test_a_list_is_forgotten_when_the_vent_is_moved_otherwise(opened: Session, qtbot: QtBot) -> None:
    opened.accept(opened.proposals[-1].id)
    word = f"vent {opened.plan.vents[0].id}"
    opened.look_for_places(word)
    looked(qtbot, opened)
    assert opened.walk_of(word) is not None
    opened.set_diameter(opened.plan.vents[0].id, 1.7)
    settle(qtbot, opened)
    assert opened.walk_of(word) is None


def test_a_list_is_forgotten_when_what_it_rests_on_changes(opened: Session, qtbot: QtBot) -> None:
    opened.accept(opened.proposals[-1].id)
    word = f"vent {opened.plan.vents[0].id}"
    opened.look_for_places(word)
    looked(qtbot, opened)
    assert opened.walk_of(word) is not None
    opened.accept(opened.proposals[0].id)
    assert opened.walk_of(word) is None
    opened.undo()
    assert opened.walk_of(word) is not None
    opened.set_pose(Pose((1.0, 0.0, 0.0)))
    assert opened.walk_of(word) is None
    settle(qtbot, opened)
    assert opened.walk_of(word) is None


def test_a_kept_place_is_compared_with_the_next_ones_as_long_as_only_its_vent_moves(
    opened: Session, qtbot: QtBot
) -> None:
    was = opened.proposals[-1]
    opened.select(f"proposal {was.id}")
    opened.keep_place()
    looked(qtbot, opened)
    assert opened.is_kept(f"proposal {was.id}")
    assert not opened.plan.vents
    was = next(v for v in opened.proposals if v.id == was.id)  # it may have got its width meanwhile
    assert not list(opened.compared(opened.selected))  # it stands there
    opened.step_place(1)
    settle(qtbot, opened)
    (vent,) = opened.plan.vents
    assert opened.is_kept(f"vent {vent.id}")  # it went along when the proposal was accepted
    qtbot.waitUntil(lambda: opened.kept_shown is not None and opened.kept_shown.flow is not None, timeout=MOST_MS)
    shown, findings = opened.kept_shown, opened.findings
    assert shown is not None
    assert findings is not None
    assert (shown.name, shown.here) == ("Where it was, kept", "Place 1, now")
    with_it = Outlook(findings, findings.scene.cups((tool_of_vent(findings, was),)))
    assert shown.cavity == was.cavity
    assert np.array_equal(shown.area, with_it.area(was.cavity))
    assert opened.picture is not None
    assert opened.picture.kept is shown
    told = {row.name: row for row in opened.compared(opened.selected)}
    assert {"Seen in views", "Left, hanging", "Left, standing", "Wall"} <= set(told)
    opened.set_diameter(vent.id, 1.7)
    settle(qtbot, opened)
    assert opened.kept_shown is not None  # a figure was typed: there is no list, but still a curve
    assert opened.kept_shown.here == "now"
    assert not list(opened.compared(opened.selected))
    opened.accept(opened.proposals[0].id)
    assert opened.kept is None
    opened.undo()
    assert opened.kept is not None
    opened.select(f"vent {vent.id}")
    opened.keep_place()
    assert opened.kept is None


def test_why_not_here_tells_the_reason_or_the_price(opened: Session, qtbot: QtBot) -> None:
    frame = opened.findings.scene.frame  # type: ignore[union-attr]
    said = counted(opened.said)
    opened.why_not(frame.to_build(np.array([-9.0, -10.0, -6.0])), np.array([0.0, -1.0, 0.0]))
    qtbot.waitUntil(lambda: len(said) == 1, timeout=MOST_MS)
    opened.why_not(frame.to_build(np.array([0.0, -10.0, -9.0])), np.array([0.0, -1.0, 0.0]))
    qtbot.waitUntil(lambda: len(said) == 2, timeout=MOST_MS)
    price, reason = (str(text[0]) for text in said)
    assert "leads into c" in price
    assert "seen in" in price
    assert "wall" in price
    assert reason.startswith("No vent of 2.5 mm there: ")
    assert not opened.plan.vents
    # The place that forbids it is shown until something else is looked at; the words tell the same.
    assert opened.refused_at is not None
    told = ", ".join(f"{x:.1f}" for x in frame.to_file(opened.refused_at))
    assert f"at ({told}) mm" in reason
    opened.select("cavity A")
    assert opened.refused_at is None


def test_why_not_in_a_mark_names_the_mark_first(opened: Session, qtbot: QtBot) -> None:
    findings = opened.findings
    assert findings is not None
    frame, said = findings.scene.frame, counted(opened.said)
    opened.mark(FaceMask.of(np.ones(len(findings.part.faces), np.bool_)), "Keep all clear")
    settle(qtbot, opened)
    opened.why_not(frame.to_build(np.array([0.0, -10.0, -9.0])), np.array([0.0, -1.0, 0.0]))
    qtbot.waitUntil(lambda: len(said) == 1, timeout=MOST_MS)
    assert str(said[0][0]).startswith("No vent of 2.5 mm there: it would cut a surface that is to be kept clear, at (")


def test_the_preference_is_an_edit_that_moves_the_proposals(opened: Session, qtbot: QtBot) -> None:
    usual = [v.entry_mm for v in opened.proposals]
    rules = VentRules(size="need", prefer=1.0, seen_from=(0.0, -0.4, -1.0))
    opened.set_rules(rules)
    settle(qtbot, opened)
    assert [v.entry_mm for v in opened.proposals] != usual
    opened.undo()
    settle(qtbot, opened)
    assert [v.entry_mm for v in opened.proposals] == usual
