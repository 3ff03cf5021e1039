"""The history behaves like a plain list of states with a cursor, whatever is done to it."""

from __future__ import annotations

import pytest
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from ventplanner.app.history import History

states = st.integers(0, 5)
keys = st.sampled_from(["move 1", "move 2"])


class PlainList:
    """The model: lists that are changed in place, and an index."""

    def __init__(self, state: int) -> None:
        self.entries = [("", state)]
        self.at = 0
        self.drag: str | None = None

    def seal(self) -> None:
        if self.drag and self.at and self.entries[self.at][1] == self.entries[self.at - 1][1]:
            del self.entries[self.at]
            self.at -= 1
        self.drag = None

    def do(self, name: str, state: int, key: str | None) -> None:
        if key and key == self.drag:
            self.entries[self.at] = (name, state)
            return
        self.seal()
        if state != self.entries[self.at][1]:
            self.entries[self.at + 1 :] = [(name, state)]
            self.at += 1
            self.drag = key

    def go(self, index: int) -> None:
        if index != self.at and 0 <= index < len(self.entries):
            self.at = index
            self.drag = None


class HistoryLikeAList(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.history = History(0)
        self.model = PlainList(0)
        self.kept: list[tuple[History[int], tuple[object, ...]]] = []
        self.count = 0

    @rule(state=states, key=st.none() | keys)
    def edit(self, state: int, key: str | None) -> None:
        self.count += 1
        self.history = self.history.did(f"edit {self.count}", state, key)
        self.model.do(f"edit {self.count}", state, key)

    @rule()
    def seal(self) -> None:
        self.history = self.history.sealed()
        self.model.seal()

    @rule()
    def undo(self) -> None:
        self.history = self.history.undone()
        self.model.go(self.model.at - 1)

    @rule()
    def redo(self) -> None:
        self.history = self.history.redone()
        self.model.go(self.model.at + 1)

    @precondition(lambda self: len(self.model.entries) > 1)
    @rule(data=st.data())
    def jump(self, data: st.DataObject) -> None:
        index = data.draw(st.integers(0, len(self.model.entries) - 1).filter(lambda i: i != self.model.at))
        self.history = self.history.jumped(index)
        self.model.go(index)

    @rule()
    def keep(self) -> None:
        self.kept.append((self.history, _seen(self.history)))

    @invariant()
    def same_as_the_list(self) -> None:
        entries, at = self.model.entries, self.model.at
        assert self.history.state == entries[at][1]
        assert self.history.names == tuple(name for name, _ in entries)
        assert self.history.index == at
        assert self.history.undo_name == (entries[at][0] if at else None)
        assert self.history.redo_name == (entries[at + 1][0] if at + 1 < len(entries) else None)

    @invariant()
    def kept_histories_never_change(self) -> None:
        for history, seen in self.kept:
            assert _seen(history) == seen


def _seen(history: History[int]) -> tuple[object, ...]:
    return (history.state, history.names, history.index, history.key)


TestHistoryLikeAList = HistoryLikeAList.TestCase


def test_a_drag_is_one_entry_and_undo_goes_back_to_where_it_began() -> None:
    history = History(0).did("Accept vent 2", 1)
    for place in range(2, 40):
        history = history.did("Move vent 2", place, "move 2")
    assert history.names == ("", "Accept vent 2", "Move vent 2")
    assert history.undone().state == 1
    assert history.undone().redone().state == 39


def test_a_new_drag_of_the_same_vent_is_an_entry_of_its_own() -> None:
    history = History(0).did("Move vent 2", 1, "move 2").sealed().did("Move vent 2", 2, "move 2")
    assert history.undone().state == 1


def test_a_drag_that_is_undone_does_not_swallow_the_next_one() -> None:
    history = History(0).did("Move vent 2", 1, "move 2").did("Move vent 2", 2, "move 2").undone()
    history = history.did("Move vent 2", 3, "move 2").did("Move vent 2", 4, "move 2")
    assert [history.state, history.undone().state] == [4, 0]


def test_a_drag_back_to_its_beginning_leaves_no_entry() -> None:
    history = History(0).did("Move vent 2", 1, "move 2").did("Move vent 2", 0, "move 2").sealed()
    assert history == History(0)


def test_an_edit_that_changes_nothing_keeps_what_can_be_redone() -> None:
    history = History(0).did("one", 1).undone()
    assert history.did("nothing", 0).redo_name == "one"


def test_amending_is_no_edit() -> None:
    history = History(0).did("one", 1).did("two", 2).undone().amended(7)
    assert (history.state, history.undo_name, history.redo_name) == (7, "one", "two")


@pytest.mark.parametrize("index", [-1, 2])
def test_a_jump_to_no_entry_is_refused(index: int) -> None:
    with pytest.raises(IndexError):
        History(0).did("one", 1).jumped(index)


def test_the_oldest_entries_are_dropped_when_the_past_grows_too_heavy() -> None:
    history = History((0,), weigh=lambda state: dict.fromkeys(state, 10), cap=30)
    for step in range(1, 8):
        history = history.did(f"edit {step}", (step,))
    assert history.names == ("edit 4", "edit 5", "edit 6", "edit 7")
    assert history.jumped(0).state == (4,)


def test_what_states_share_is_counted_once_and_what_the_current_one_holds_not_at_all() -> None:
    history = History((-1, 0), weigh=lambda state: {-1: 1000, state[1]: 10}, cap=30)
    for step in range(1, 8):
        history = history.did(f"edit {step}", (-1, step))
    assert len(history.past) == 3


def test_the_current_state_stays_however_heavy_it_is() -> None:
    history = History((0,), weigh=lambda state: dict.fromkeys(state, 10**9), cap=1).did("edit", (1,))
    assert history.state == (1,)
    assert history.undo_name is None
