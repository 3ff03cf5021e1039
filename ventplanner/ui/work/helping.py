"""A session's search for what would bring out what stays in the part: begun when asked for, each answer an edit."""

from __future__ import annotations

from itertools import count, islice
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState
from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.lanes import Lane
from ventplanner.ui.work.pouring import Pouring

if TYPE_CHECKING:
    from ventplanner.app.helping import Help

_CANNOT = "What would help could not be found out"


class Helping(Pouring):
    """An answer counts for the plan, marks and profile that it was found for; with others it is dropped."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._helped: object = None
        self._is_help_ending = False
        self._helping = Lane("what would help", self, impatient=True)
        self._helping.done.connect(self._help_came)
        self._helping.failed.connect(self._help_failed)
        self._helping.progressed.connect(lambda step, share: self._tell(j.HELPING, step, share))
        self._helping.busy_changed.connect(self._tell_help_busy)
        self.changed.connect(self._follow_help)

    @property
    def helps(self) -> tuple[Help, ...] | None:
        """What would bring out more with the present plan; None if that was not asked for, or is not known yet."""
        key = self._help_key()
        found: tuple[Help, ...] | None = self._results.get(key) if key else None
        return found

    @property
    def is_help_coming(self) -> bool:
        """Whether it is being looked for."""
        return self._helping.is_busy

    def look_for_help(self) -> None:
        """Look for it, once the pour plan is known. `changed` tells when it is there."""
        key, state, findings, poured = self._help_key(), self.state, self.findings, self.poured
        if not key or state is None or findings is None or poured is None or key in self._results:
            return
        profile, offered = self.profile, self.proposals

        def work(progress: Progress) -> object:
            from ventplanner.app.helping import helps

            return helps(findings, state, poured.done, profile, progress, offered)

        self._helped = poured
        self._helping.ask(key, work)
        self._tell_changed()

    def cancel_help(self) -> None:
        """Give the search up."""
        self._helped = None
        self._helping.stop()
        self.said.emit("Looking for what would help was cancelled.")

    def take_help(self, wanted: Help) -> None:
        """Move or add the vents of an answer, as one edit."""

        def edit(state: AppState) -> Edit:
            from ventplanner.app.helping import take

            taken = {v.id for v in (*state.plan.vents, *self.proposals, *self.set_aside)}
            free = (str(n) for n in count(1) if str(n) not in taken)
            names = () if wanted.replaces or wanted.is_offered else tuple(islice(free, len(wanted.vents)))
            return take(state, self.profile, wanted, names, self.proposals)

        self._edit(edit)

    def watch_pour(self, on: bool) -> None:
        """As before; nobody wants to know what would help if nobody looks."""
        if not on:
            self._helped = None
            self._helping.stop()
        super().watch_pour(on)

    def _help_key(self) -> str:
        """Key of what is wanted; "" as long as nothing can be said."""
        state = self.state
        if state is None or not self._pour_key():
            return ""
        from ventplanner.app.helping import help_key

        return help_key(state, self.profile, self.proposals)

    def _follow_help(self) -> None:
        """An answer that nobody waits for is given up. As long as the pour plan is the one that was asked about, only
        what is proposed has changed (its widths come late): then it is asked for again."""
        if self._is_help_ending:
            return
        if self._helping.is_busy and self._helping.key != self._help_key():
            self._helping.stop()
        is_same = self.poured is not None and self.poured is self._helped
        if is_same and self.helps is None and not self._helping.is_busy:
            self.look_for_help()

    def _tell_help_busy(self) -> None:
        """A lane is at rest a moment before it hands over its answer: nothing is asked for in between."""
        self._is_help_ending = True
        self._set_busy(j.HELPING, self._helping.is_busy, cancellable=True)
        self._is_help_ending = False

    def _help_failed(self, _: str, error: object) -> None:
        self._helped = None
        self._fail(error, _CANNOT)

    def _help_came(self, key: str, found: object) -> None:
        self._results.put(key, found)
        self._tell_changed()

    def _end(self) -> None:
        """Nothing of this part is looked for any more."""
        self._helping.stop()
        super()._end()
