"""A session's part mended: in the worker, first looked at, then taken as one edit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import msgspec
from PySide6.QtCore import QObject, Signal

from ventplanner.app.mend_edit import MendFacts, mend_part
from ventplanner.app.state import AppState, key_of
from ventplanner.ui.journal import Journal
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.hollowing import Hollowing
from ventplanner.ui.work.messages import MENDING, MendOrder, Part

if TYPE_CHECKING:
    from ventplanner.mending.rules import MendRules

STAYS = "The part stays as it is"


class Mending(Hollowing):
    """What mending would change is told before it is done; what was told is what is taken."""

    mend_found = Signal(object)
    """What mending by the rules that were asked for last would change: `MendFacts`, or the error that says why the part
    cannot be closed."""
    mend_wanted = Signal()
    """The part shall be mended: the window asks how."""
    mended = Signal(object)
    """The part was mended: its `MendFacts`."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._mend_wanted: tuple[str, MendRules] | None = None
        self._mend_answer: tuple[str, dict[str, Any], MendFacts] | None = None
        self._pool.done.connect(self._mend_came)
        self._pool.failed.connect(self._not_mended)
        self._pool.busy_changed.connect(
            lambda: self._set_busy(j.MENDING, self._pool.is_busy(MENDING), cancellable=True)
        )

    def _end(self) -> None:
        self.forget_mending()
        self.hollow_previews.stop()
        super()._end()

    def look_for_damage(self, rules: MendRules) -> None:
        """Find out what mending by these rules would change; `mend_found` tells. Changes nothing."""
        state = self.state
        if state is None:
            return
        self._mend_wanted = self._mend_key(state, rules), rules
        if self._mend_answer is not None and self._mend_answer[0] == self._mend_wanted[0]:
            self.mend_found.emit(self._mend_answer[2])
        elif not self._pool.is_busy(MENDING):
            self._mend_next()

    def mend(self) -> None:
        """Take the part as it was told last; `mended` tells the end."""
        answer, wanted = self._mend_answer, self._mend_wanted
        if answer is None or wanted is None or answer[0] != wanted[0]:
            return
        key, found, facts = answer
        rules = wanted[1]

        def then() -> None:
            self.forget_mending()
            self.mended.emit(facts)

        self._replace_part(
            found,
            lambda now, solid: mend_part(now, solid, facts),
            lambda now: key == self._mend_key(now, rules),
            then,
            facts.bodies,
        )

    def forget_mending(self) -> None:
        """Nobody asks any more: the mended part is let go."""
        self._mend_wanted = self._mend_answer = None

    def cancel_mending(self) -> None:
        """Give it up."""
        self._mend_wanted = None
        self._pool.cancel(MENDING)
        self.said.emit(f"Mending was cancelled. {STAYS}.")
        self._tell_changed()

    def _mend_next(self) -> None:
        """Look, by the rules that are wanted now."""
        state, wanted = self.state, self._mend_wanted
        if state is None or wanted is None:
            return
        key, rules = wanted

        def order(part: Part) -> MendOrder:
            return MendOrder(part, rules)

        self._pool.submit(MENDING, key, state.solid, order)

    def _mend_key(self, state: AppState, rules: MendRules) -> str:
        told = (rules.tolerance_mm, rules.largest_mm, rules.nested, sorted(rules.without), rules.redraw)
        return f"{self._opened_count} {key_of(state.solid.digest, told)}"

    def _mend_came(self, name: str, key: str, answer: object) -> None:
        if name != MENDING or not self._is_mend_wanted(key):
            return
        found = cast("dict[str, Any]", answer)
        facts = msgspec.json.decode(bytes(found["facts"]), type=MendFacts)
        self._mend_answer = key, found, facts
        self.mend_found.emit(facts)

    def _not_mended(self, name: str, key: str, error: object) -> None:
        if name == MENDING and self._is_mend_wanted(key):
            self.mend_found.emit(error)

    def _is_mend_wanted(self, key: str) -> bool:
        """Whether this answers what is wanted now; if not, that is begun."""
        if self._mend_wanted is None:
            return False
        if key != self._mend_wanted[0]:
            self._mend_next()
            return False
        return True
