"""A session's search for an orientation: begun when asked for, kept by what it rests on, never applied unasked.

As long as somebody looks, the orientation that the part has is known in full, too: it is worked out where it was not.
"""

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
    from ventplanner.orienting.model import Candidate, Search

_CANNOT = "No orientation could be looked for"
_CANNOT_NOW = "The present orientation could not be worked out"


class Orienting(Holding):
    """Turning the part leaves what was found as it is; another part, other options or another profile do not."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._orienting = Lane("orientations", self, impatient=True)
        self._orienting.done.connect(self._orientations_came)
        self._orienting.failed.connect(lambda _, error: self._search_failed(error))
        self._orienting.progressed.connect(lambda step, share: self._tell(j.ORIENTING, step, share))
        self._orienting.busy_changed.connect(lambda: self._tell_lane(j.ORIENTING, self._orienting, True))
        self._working_out = Lane("present orientation", self, impatient=True)
        self._working_out.done.connect(self._present_came)
        self._working_out.failed.connect(self._present_failed)
        self._working_out.busy_changed.connect(lambda: self._tell_lane(j.PRESENT, self._working_out, False))
        self._is_search_wanted = self._is_lane_ending = self._are_orientations_looked_at = False
        self._present_refused = ""
        self.changed.connect(self._follow_search)
        self.changed.connect(self._follow_present)

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

    @property
    def present_orientation(self) -> Candidate | None:
        """The orientation that the part has, in full; None as long as nothing was looked for, or until it is known."""
        found, state = self.orientations, self.state
        if found is None or state is None:
            return None
        from ventplanner.app.orientations import known_of, present_key

        known: Candidate | None = known_of(found, state) or self._results.get(present_key(state, self.profile))
        return known

    def look_for_orientations(self) -> None:
        """Look for them, unless they are known. `changed` tells when they are there."""
        self._are_orientations_looked_at = True
        self._is_search_wanted = self.orientations is None
        self._tell_changed()

    def cancel_orienting(self) -> None:
        """Give the search up."""
        self.stop_orienting()
        self.said.emit("Looking for an orientation was cancelled. The part hangs as before.")

    def stop_orienting(self) -> None:
        """Nobody waits for it any more."""
        self._are_orientations_looked_at = False
        self._drop_search()
        self._working_out.stop()

    def _drop_search(self) -> None:
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
        if not self._is_search_wanted or self._is_lane_ending:
            return
        key, state, findings, profile = self._orient_key(), self.state, self.findings, self.profile
        halted = self.stale and self._analyst.interrupted is not None
        if halted or key in self._results or (self._orienting.is_busy and self._orienting.key != key):
            self._drop_search()
        elif not (self._orienting.is_busy or state is None or findings is None or self.stale):
            self._ask_for_orientations(key, findings, state, profile)

    def _ask_for_orientations(self, key: str, findings: Findings, state: AppState, profile: Profile) -> None:
        def work(progress: Progress) -> object:
            from ventplanner.app.orientations import look_for

            return look_for(findings, state, profile, progress)

        self._orienting.ask(key, work)

    def _follow_present(self) -> None:
        """Work out the orientation that the part has by now, once the part was looked at in it."""
        if not self._are_orientations_looked_at or self._is_lane_ending:
            return
        state, findings, profile = self.state, self.findings, self.profile
        if state is None or self.orientations is None or self.present_orientation is not None:
            self._working_out.stop()
            return
        from ventplanner.app.orientations import present_key, work_out

        key = present_key(state, profile)
        if findings is not None and not self.stale and key != self._present_refused:
            self._working_out.ask(key, lambda _: work_out(findings, state, profile))

    def _present_came(self, key: str, found: object) -> None:
        self._results.put(key, found)
        self._tell_changed()

    def _present_failed(self, key: str, error: object) -> None:
        self._present_refused = key
        self._fail(error, _CANNOT_NOW)

    def _tell_lane(self, job: str, lane: Lane, cancellable: bool) -> None:
        """A lane is at rest a moment before it hands over its answer: nothing is asked for in between."""
        self._is_lane_ending = True
        self._set_busy(job, lane.is_busy, cancellable=cancellable)
        self._is_lane_ending = False

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
