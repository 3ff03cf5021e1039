"""Vents that are dragged, turned and resized in a session: fitted in a thread, shown at once, one entry each."""

from __future__ import annotations

import numpy as np
import pytest
from pytestqt.qtbot import QtBot
from ui.session_kit import counted, drag, opened_, part_, session_, settle, shaped  # noqa: F401  the names that end in _ are fixtures

from ventplanner.geometry.outline import Outline
from ventplanner.plan.model import Countersink
from ventplanner.plan.refusal import place_of_refusal
from ventplanner.plan.section_rules import Section
from ventplanner.ui.session import Session


def test_a_drag_moves_the_vent_and_the_chart_and_is_one_entry(opened: Session, qtbot: QtBot) -> None:
    first = opened.proposals[0]
    opened.accept(first.id)
    settle(qtbot, opened)
    previews = counted(opened.preview_changed)
    for x in (-9.0, -8.0, -7.0):
        drag(opened, first.id, x, -4.0)
        shaped(qtbot, opened)
    assert opened.dragged is not None
    assert opened.dragged.entry[0] == pytest.approx(-7.0, abs=1e-5)
    opened.drag_end()
    assert len(previews) >= 3
    assert opened.names[1:] == (f"Accept vent {first.id}", f"Move vent {first.id}")
    assert opened.plan.vents[0].entry_mm == pytest.approx((-7.0, -10.0, -4.0), abs=1e-5)
    assert opened.is_settled
    opened.undo()
    assert opened.plan.vents[0] == first


def test_of_many_wishes_during_a_drag_the_newest_wins(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    first = opened.plan.vents[0]
    for x in np.linspace(-12.0, -8.0, 40):
        drag(opened, f"vent {first.id}", float(x), -4.0)
    opened.drag_end()
    shaped(qtbot, opened)
    assert opened.plan.vents[0].entry_mm[0] == pytest.approx(-8.0, abs=1e-5)
    assert len(opened.names) == 3


def test_a_dragged_proposal_is_accepted_at_its_new_place_as_one_entry(opened: Session, qtbot: QtBot) -> None:
    first = opened.proposals[0]
    opened.select(f"proposal {first.id}")
    for x in (-9.0, -8.0):
        drag(opened, f"proposal {first.id}", x, -4.0)
        shaped(qtbot, opened)
    opened.drag_end()
    assert opened.names[1:] == (f"Place vent {first.id}",)
    assert opened.plan.vents[0].entry_mm[0] == pytest.approx(-8.0, abs=1e-5)
    assert first not in opened.proposals
    assert opened.selected == f"vent {first.id}"
    opened.undo()
    assert opened.plan.vents == ()
    assert first in opened.proposals


def test_where_it_does_not_fit_nothing_moves_and_it_is_said_why(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    before = opened.plan
    opened.drag_to(opened.plan.vents[0].id, np.array([0.0, 0.0, 20.0]), np.array([0.0, 0.0, 1.0]))
    shaped(qtbot, opened)
    assert opened.drag_refusal.startswith("no cavity is behind the wall, at (")
    assert place_of_refusal(opened.drag_refusal) is not None
    assert opened.plan == before
    opened.drag_end()
    assert opened.drag_refusal == ""
    assert len(opened.names) == 2


def test_an_edit_right_after_a_drag_comes_after_it(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    first = opened.plan.vents[0]
    drag(opened, first.id, -8.0, -4.0)
    opened.drag_end()
    opened.undo()
    assert opened.plan.vents[0] == first
    assert opened.redo_name == f"Move vent {first.id}"
    shaped(qtbot, opened)
    assert opened.plan.vents[0] == first


def test_diameter_axis_and_depth_by_number(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    vent_id = opened.plan.vents[0].id
    opened.set_diameter(vent_id, 1.5)
    shaped(qtbot, opened)
    assert opened.plan.vents[0].diameter_mm == 1.5
    assert opened.undo_name == f"Set diameter of vent {vent_id} to 1.5 mm"
    opened.set_depth(vent_id, 0.9)
    assert opened.plan.vents[0].beyond_mm == 0.9
    axis = np.array(opened.plan.vents[0].axis) + np.array([0.1, 0.1, 0.1])
    opened.set_axis(vent_id, tuple(axis))
    shaped(qtbot, opened)
    assert opened.plan.vents[0].axis == pytest.approx(axis / np.linalg.norm(axis))
    failures = counted(opened.failed)
    opened.set_diameter(vent_id, 500.0)
    opened.set_axis(vent_id, (0.0, 0.0, 0.0))
    opened.set_depth(vent_id, -1.0)
    assert len(failures) == 3


def test_a_slot_and_a_countersink_are_fitted_and_dragged_along(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    first = opened.plan.vents[0]
    opened.set_section(first.id, Section(first.diameter_mm, Outline("slot", 3 * first.diameter_mm), 0.0, None, True))
    shaped(qtbot, opened)
    slot = opened.plan.vents[0]
    assert slot.outline.shape == "slot"
    opened.set_section(first.id, Section(slot.diameter_mm, slot.outline, 0.0, Countersink(9.0, 900.0)))
    shaped(qtbot, opened)
    assert "stay under the countersink" in opened.drag_refusal
    assert place_of_refusal(opened.drag_refusal) is not None
    sink = Countersink(slot.diameter_mm + 1.0, 0.6)
    opened.set_section(first.id, Section(slot.diameter_mm, slot.outline, 0.0, sink))
    shaped(qtbot, opened)
    assert opened.undo_name == f"Countersink vent {first.id}"
    assert opened.picture is not None
    assert next(v for v in opened.picture.vents if v.word == f"vent {first.id}").flare is not None
    drag(opened, first.id, -9.0, -4.0)
    shaped(qtbot, opened)
    opened.drag_end()
    now = opened.plan.vents[0]
    assert (now.outline.shape, now.outline.length_mm, now.countersink) == ("slot", slot.outline.length_mm, sink)
    opened.undo()
    opened.undo()
    opened.undo()
    assert opened.plan.vents[0] == first


def test_two_drags_of_one_vent_are_two_entries(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    first = opened.plan.vents[0]
    for x in (-9.0, -8.0):
        drag(opened, first.id, x, -4.0)
        shaped(qtbot, opened)
        opened.drag_end()
    assert opened.names[2:] == (f"Move vent {first.id}",) * 2
    opened.undo()
    assert opened.plan.vents[0].entry_mm[0] == pytest.approx(-9.0, abs=1e-5)


def test_the_pictures_follow_each_step_and_all_the_rest_now_and_then(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    vent = opened.plan.vents[0].id
    steps, changes = counted(opened.stepped), counted(opened.changed)
    for x in np.linspace(-9.0, -8.0, 12):
        drag(opened, f"vent {vent}", float(x), -4.0)
        shaped(qtbot, opened)
    assert len(steps) >= 12
    assert len(changes) < len(steps)
    qtbot.waitUntil(lambda: bool(changes), timeout=1000)
    before = len(changes)
    opened.drag_end()
    assert len(changes) > before  # the last step is told of at once when the drag is over
    assert not opened.is_dragging


def test_an_edit_is_told_of_once(opened: Session, qtbot: QtBot) -> None:
    settle(qtbot, opened)
    plans: list[tuple[str, ...]] = []
    opened.changed.connect(lambda: plans.append(tuple(v.id for v in opened.plan.vents)))
    opened.accept(opened.proposals[0].id)
    assert plans == [tuple(v.id for v in opened.plan.vents)]
