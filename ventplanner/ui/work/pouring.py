"""A session's pour plan: worked out in a thread as long as somebody looks at it, for the plan and profile at hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.comparing import Comparing
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.app.pouring import Poured

_CANNOT = "How the part drains could not be worked out"


class Pouring(Comparing):
    """Nothing is worked out before it is asked for, and nothing while a vent is in hand."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._is_pour_watched = self._is_pour_ending = False
        self._pours_given_up: set[str] = set()
        self._pouring = Lane("pour plan", self, impatient=True)
        self._pouring.done.connect(self._pour_came)
        self._pouring.failed.connect(self._pour_failed)
        self._pouring.progressed.connect(lambda step, share: self._tell(j.POURING, step, share))
        self._pouring.busy_changed.connect(self._tell_pour_busy)
        self.changed.connect(self._follow_pour)

    @property
    def poured(self) -> Poured | None:
        """The pour plan of the present plan and profile; None if that is not known."""
        key = self._pour_key()
        found: Poured | None = self._results.get(key) if key else None
        return found

    @property
    def is_pour_given_up(self) -> bool:
        """Whether the user cancelled it, or it failed: it is not begun again unasked."""
        return self._pour_key() in self._pours_given_up

    def watch_pour(self, on: bool) -> None:
        """Somebody looks at the pour plan, and wants it for each plan, or no longer. `changed` tells when it is known.
        What was given up is begun again."""
        self._is_pour_watched = on
        if on:
            self._pours_given_up.clear()
        else:
            self._pouring.stop()
        self._tell_changed()

    def cancel_pour(self) -> None:
        """Give it up for the present plan."""
        self._pours_given_up.add(self._pouring.key)
        self._pouring.stop()
        self.said.emit("Working out how it drains was cancelled.")

    def _pour_key(self) -> str:
        """Key of what is wanted; "" as long as nothing can be said."""
        state, findings = self.state, self.findings
        if state is None or findings is None or self.stale or self.is_dragging:
            return ""
        from ventplanner.app.pouring import pour_key

        return pour_key(state, self.profile)

    def _follow_pour(self) -> None:
        if not self._is_pour_watched or self._is_pour_ending:
            return
        key, state, findings, profile = self._pour_key(), self.state, self.findings, self.profile
        if self._pouring.is_busy and self._pouring.key != key:
            self._pouring.stop()
        if not key or state is None or findings is None or key in self._results or key in self._pours_given_up:
            return

        def work(progress: Progress) -> object:
            from ventplanner.app.pouring import pour

            return pour(findings, state.plan, profile, progress)

        self._pouring.ask(key, work)

    def _tell_pour_busy(self) -> None:
        """A lane is at rest a moment before it hands over its answer: nothing is asked for in between."""
        self._is_pour_ending = True
        self._set_busy(j.POURING, self._pouring.is_busy, cancellable=True)
        self._is_pour_ending = False

    def _pour_came(self, key: str, found: object) -> None:
        self._results.put(key, found)
        self._tell_changed()

    def _pour_failed(self, key: str, error: object) -> None:
        self._pours_given_up.add(key)
        self._fail(error, _CANNOT)

    def _end(self) -> None:
        """Nothing of this part is worked out any more."""
        self._is_pour_watched = False
        self._pours_given_up.clear()
        self._pouring.stop()
        super()._end()
