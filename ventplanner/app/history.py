"""Undo and redo: one immutable history of named states.

A history is a value: each operation returns a new one, and an edit needs no inverse, because the states before it are
kept. States share what an edit left alone, so that a long history of small edits is small.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, replace
from typing import Generic, TypeVar

S = TypeVar("S")
Pieces = Mapping[Hashable, int]


def weightless(state: object) -> Pieces:
    """The pieces of a state whose memory is not worth counting: none."""
    return {}


@dataclass(frozen=True)
class Entry(Generic[S]):
    """A state and the name of the edit that led to it."""

    name: str
    state: S


@dataclass(frozen=True)
class History(Generic[S]):
    """The current state, those before it (oldest first) and those that were undone (next one first).

    `key` is that of the running drag, None when there is none: edits of the same key merge into one entry.
    `weigh` names the pieces of memory that a state holds and their estimated bytes; a piece that several states share
    counts once. When the past holds more than `cap` bytes beyond what the current state holds anyway, its oldest
    entries are dropped; the current state never is.
    """

    state: S
    name: str = ""
    past: tuple[Entry[S], ...] = ()
    future: tuple[Entry[S], ...] = ()
    key: str | None = None
    weigh: Callable[[S], Pieces] = field(default=weightless, repr=False, compare=False)
    cap: int = field(default=256_000_000, repr=False)

    @property
    def undo_name(self) -> str | None:
        """Name of the edit that undo would take back; None if there is none."""
        return self.name if self.past else None

    @property
    def redo_name(self) -> str | None:
        """Name of the edit that redo would bring back; None if there is none."""
        return self.future[0].name if self.future else None

    @property
    def names(self) -> tuple[str, ...]:
        """The names of all states, oldest first, undone ones included."""
        return tuple(entry.name for entry in self._line())

    @property
    def index(self) -> int:
        """Place of the current state in `names`."""
        return len(self.past)

    def did(self, name: str, state: S, coalesce_key: str | None = None) -> History[S]:
        """The history after an edit. What was undone before is gone.

        An edit that changes nothing leaves no entry. Within a drag (the same key again, and nothing else between) the
        entry of the drag takes the new name and state.
        """
        if coalesce_key is not None and coalesce_key == self.key:
            return replace(self, name=name, state=state)
        settled = self.sealed()
        if state == settled.state:
            return settled
        past = (*settled.past, Entry(settled.name, settled.state))
        return replace(settled, name=name, state=state, past=past, future=(), key=coalesce_key)._within_cap()

    def sealed(self) -> History[S]:
        """The history after the end of a drag; a drag that came back to where it began leaves no entry."""
        if self.key is not None and self.past and self.state == self.past[-1].state:
            return replace(self._at(self.index - 1), future=self.future)
        return replace(self, key=None)

    def amended(self, state: S) -> History[S]:
        """The same history with more known about the current state: for what is no edit of the user's."""
        return replace(self, state=state)

    def undone(self) -> History[S]:
        """One edit back; the same history when there is none."""
        return self._at(self.index - 1) if self.past else self

    def redone(self) -> History[S]:
        """One edit forward again; the same history when there is none."""
        return self._at(self.index + 1) if self.future else self

    def jumped(self, index: int) -> History[S]:
        """The history at this place of `names`; raises IndexError where there is none."""
        if not 0 <= index < len(self.past) + 1 + len(self.future):
            raise IndexError(f"the history has no entry {index}")
        return self._at(index)

    def _line(self) -> tuple[Entry[S], ...]:
        return (*self.past, Entry(self.name, self.state), *self.future)

    def _at(self, index: int) -> History[S]:
        line = self._line()
        here = line[index]
        return replace(self, name=here.name, state=here.state, past=line[:index], future=line[index + 1 :], key=None)

    def _within_cap(self) -> History[S]:
        counted = set(self.weigh(self.state))
        held = 0
        for kept, entry in enumerate(reversed(self.past)):
            pieces = self.weigh(entry.state)
            held += sum(size for piece, size in pieces.items() if piece not in counted)
            counted.update(pieces)
            if held > self.cap:
                return replace(self, past=self.past[len(self.past) - kept :])
        return self
