"""Marks as a wish of the user's: what they are keys of, what keeps them, and what drops them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plan_values import vent, wedge

from ventplanner.app import edits
from ventplanner.app.history import History
from ventplanner.app.keeping_clear import mark
from ventplanner.app.state import (
    AppState,
    analysis_key,
    drilled_key,
    from_saved,
    memory_of,
    plan_key,
    proposals_key,
    to_saved,
    wish_key,
)
from ventplanner.errors import InputError
from ventplanner.geometry.face_mask import FaceMask

PLAIN = AppState(wedge())
MARKS = FaceMask.at(4, [0, 2])
MARKED = mark(PLAIN, MARKS, "Mark").state


def test_marks_change_the_proposals_and_the_work_but_not_what_was_found() -> None:
    assert MARKED.keep_clear == MARKS
    for key in (proposals_key, wish_key):
        assert key(MARKED) != key(PLAIN)
        assert key(MARKED) == key(mark(PLAIN, FaceMask.at(4, [2, 0]), "Again").state)
    for key in (analysis_key, plan_key, drilled_key):
        assert key(MARKED) == key(PLAIN)
    assert from_saved(to_saved(MARKED)).keep_clear == MARKS
    assert sum(memory_of(MARKED).values()) > sum(memory_of(PLAIN).values())


def test_no_mark_at_all_is_none() -> None:
    cleared = mark(MARKED, FaceMask.none_of(4), "Clear")
    assert cleared.state.keep_clear is None
    assert wish_key(cleared.state) == wish_key(PLAIN)
    assert mark(MARKED, MARKS, "The same").state is MARKED


def test_marks_of_another_part_are_refused() -> None:
    with pytest.raises(InputError, match="another part"):
        mark(PLAIN, FaceMask.none_of(5), "Mark")


def test_each_stroke_is_undone_by_itself() -> None:
    history = History(PLAIN)
    first = history.did(*mark(history.state, FaceMask.at(4, [0]), "Keep clear"))
    second = first.did(*mark(first.state, MARKS, "Keep clear"))
    assert second.undone().state.keep_clear == FaceMask.at(4, [0])
    assert second.undone().undone().state.keep_clear is None
    assert second.undone().redone().state.keep_clear == MARKS


def test_a_part_that_was_read_again_keeps_the_marks_where_its_triangles_are_the_same() -> None:
    stretched = wedge(scale=1.5)
    assert edits.set_part(MARKED, stretched).state.keep_clear == MARKS
    assert edits.set_unit(MARKED, stretched).state.keep_clear == MARKS
    other = replace(wedge(), faces=np.roll(wedge().faces, 1, axis=0))
    assert edits.set_part(MARKED, other).state.keep_clear is None
    assert edits.set_part(PLAIN, other).state.keep_clear is None


def test_marks_outlive_other_edits() -> None:
    assert edits.add(MARKED, vent("1")).state.keep_clear == MARKS
