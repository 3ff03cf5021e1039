"""A session's search for an orientation: begun when asked for, kept by what it rests on, never applied unasked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.app.state import AppState
from ventplanner.profile import Profile
from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.holding import Holding
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings
    from ventplanner.orienting.model import Search

_CANNOT = "No orientation could be looked for"


class Orienting(Holding):
    """Turning the part leaves what was found as it is; another part, other options or another profile do not."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._orienting = Lane("orientations", self, impatient=True)
        self._orienting.done.connect(self._orientations_came)
        self._orienting.failed.connect(lambda _, error: self._search_failed(error))
        self._orienting.progressed.connect(lambda step, share: self._tell(j.ORIENTING, step, share))
        self._orienting.busy_changed.connect(self._tell_search_busy)
        self._is_search_wanted = self._is_search_ending = False
        self.changed.connect(self._follow_search)

    @property
    def orientations(self) -> Search | None:
        """What was found for the part as it is; None if nothing was looked for yet, or for other options."""
        key = self._orient_key()
        found: Search | None = self._results.get(key) if key else None
        return found

    @property
    def are_orientations_coming(self) -> bool:
        """Whether they are being looked for, or will be as soon as the part was looked at."""
        return self._is_search_wanted

    def look_for_orientations(self) -> None:
        """Look for them, unless they are known. `changed` tells when they are there."""
        self._is_search_wanted = self.orientations is None
        self._tell_changed()

    def cancel_orienting(self) -> None:
        """Give the search up."""
        self.stop_orienting()
        self.said.emit("Looking for an orientation was cancelled. The part hangs as before.")

    def stop_orienting(self) -> None:
        """Nobody waits for it any more."""
        self._is_search_wanted = False
        self._orienting.stop()

    def _orient_key(self) -> str:
        """Key of what is wanted; "" without a part."""
        state = self.state
        if state is None:
            return ""
        from ventplanner.app.orientations import orient_key

        return orient_key(state, self.profile)

    def _follow_search(self) -> None:
        """Begin what is wanted once the part was looked at; what nobody can use any more is dropped."""
        if not self._is_search_wanted or self._is_search_ending:
            return
        key, state, findings, profile = self._orient_key(), self.state, self.findings, self.profile
        halted = self.stale and self._analyst.interrupted is not None
        if halted or key in self._results or (self._orienting.is_busy and self._orienting.key != key):
            self.stop_orienting()
        elif not (self._orienting.is_busy or state is None or findings is None or self.stale):
            self._ask_for_orientations(key, findings, state, profile)

    def _ask_for_orientations(self, key: str, findings: Findings, state: AppState, profile: Profile) -> None:
        def work(progress: Progress) -> object:
            from ventplanner.app.orientations import look_for

            return look_for(findings, state, profile, progress)

        self._orienting.ask(key, work)

    def _tell_search_busy(self) -> None:
        """A lane is at rest a moment before it hands over its answer: nothing is asked for in between."""
        self._is_search_ending = True
        self._set_busy(j.ORIENTING, self._orienting.is_busy, cancellable=True)
        self._is_search_ending = False

    def _orientations_came(self, key: str, found: object) -> None:
        self._is_search_wanted = False
        self._results.put(key, found)
        self._tell_changed()

    def _search_failed(self, error: object) -> None:
        self._is_search_wanted = False
        self._fail(error, _CANNOT)

    def _end(self) -> None:
        """Nothing of this part is looked for any more."""
        self.stop_orienting()
        super()._end()
