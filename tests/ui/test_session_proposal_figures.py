"""Figures that are typed on a proposal: it is accepted with them, as one entry of the history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, opened_, part_, session_, settle  # noqa: F401  the names that end in _ are fixtures

from ventplanner.plan.model import Vent
from ventplanner.ui.session import Session


@pytest.mark.parametrize(
    ("do", "name", "kept"),
    [
        (lambda s: s.set_diameter("proposal 1", 2.0), "set diameter to 2.0 mm", lambda v: v.diameter_mm == 2.0),
        (lambda s: s.set_depth("proposal 1", 0.9), "set depth to 0.9 mm", lambda v: v.beyond_mm == 0.9),
        (lambda s: s.set_axis("proposal 1", (0.0, 0.3, 1.0)), "turn", lambda v: v.axis[1] > 0.2),
    ],
)
def test_a_figure_accepts_the_proposal_with_it_in_one_entry(
    opened: Session, qtbot: QtBot, do: Callable[[Session], None], name: str, kept: Callable[[Vent], bool]
) -> None:
    before = opened.proposals
    opened.select("proposal 1")
    do(opened)
    settle(qtbot, opened)
    (vent,) = opened.plan.vents
    assert vent.id == "1"
    assert kept(vent)
    assert opened.names[1:] == (f"Accept vent 1: {name}",)
    assert opened.selected == "vent 1"
    assert [v.id for v in opened.proposals] == ["2", "3", "4"]
    opened.undo()
    assert opened.proposals == before


def test_what_does_not_fit_is_refused_and_the_proposal_stays(opened: Session, qtbot: QtBot) -> None:
    opened.set_diameter("proposal 1", 15.0)
    settle(qtbot, opened)
    assert opened.drag_refusal
    assert opened.plan.vents == ()
    assert len(opened.names) == 1


def test_a_refusal_is_taken_back_when_the_proposal_has_become_another_one(opened: Session, qtbot: QtBot) -> None:
    opened.set_diameter("proposal 1", 15.0)
    settle(qtbot, opened)
    sizing = opened._analyst.sizing
    qtbot.waitUntil(lambda: sizing.is_current, timeout=MOST_MS)
    opened.set_diameter("proposal 1", 15.0)  # refused once more, should the widths have come only now
    settle(qtbot, opened)
    sizing.changed.emit()
    assert opened.drag_refusal  # nothing is new: it still holds
    first = opened.proposals[0]
    assert sizing.found is not None
    sizing._widths = {**sizing._widths, first.id: replace(first, diameter_mm=first.diameter_mm + 0.1)}
    sizing.found = replace(sizing.found)
    sizing.changed.emit()
    assert opened.proposals[0].diameter_mm == first.diameter_mm + 0.1
    assert not opened.drag_refusal


def test_accept_pressed_after_typing_keeps_what_was_typed(opened: Session, qtbot: QtBot) -> None:
    failures = counted(opened.failed)
    opened.set_diameter("proposal 1", 2.0)
    opened.accept("1")
    settle(qtbot, opened)
    assert [(v.id, v.diameter_mm) for v in opened.plan.vents] == [("1", 2.0)]
    assert opened.names[1:] == ("Accept vent 1: set diameter to 2.0 mm",)
    assert failures == []


def test_set_aside_pressed_after_typing_sets_it_aside(opened: Session, qtbot: QtBot) -> None:
    failures = counted(opened.failed)
    opened.set_diameter("proposal 1", 2.0)
    opened.set_aside_proposal("1")
    settle(qtbot, opened)
    assert opened.plan.vents == ()
    assert [v.id for v in opened.set_aside] == ["1"]
    assert opened.names[-1] == "Set aside vent 1"
    assert failures == []


def test_a_second_figure_typed_meanwhile_counts_too(opened: Session, qtbot: QtBot) -> None:
    opened.set_diameter("proposal 1", 2.0)
    opened.set_depth("proposal 1", 0.9)
    settle(qtbot, opened)
    (vent,) = opened.plan.vents
    assert (vent.diameter_mm, vent.beyond_mm) == (2.0, 0.9)
    assert opened.names[1:] == ("Accept vent 1: set diameter to 2.0 mm", "Set depth of vent 1 to 0.9 mm")


def test_a_depth_typed_stays_when_the_diameter_changes(opened: Session, qtbot: QtBot) -> None:
    opened.set_depth("proposal 1", 0.9)
    opened.set_diameter("1", 1.5)
    settle(qtbot, opened)
    (vent,) = opened.plan.vents
    assert (vent.diameter_mm, vent.beyond_mm) == (1.5, 0.9)
