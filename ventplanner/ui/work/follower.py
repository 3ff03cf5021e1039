"""What follows a plan and a profile at leisure: a result is asked for when both have been at rest for a while."""

from __future__ import annotations

from typing import TYPE_CHECKING, Generic, TypeVar

from PySide6.QtCore import QObject, QTimer, Signal

from ventplanner.app.results import Results
from ventplanner.app.state import AppState
from ventplanner.profile import Profile
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings

F = TypeVar("F")


class Follower(QObject, Generic[F]):
    """`found` is the last result, `key` what it was computed from; `is_current` tells whether that is the present one.

    Those that derive from it say what a result depends on (`_key_of`) and ask for it (`_ask`).
    """

    changed = Signal()
    failed = Signal(object, str)
    lanes: tuple[Lane, ...] = ()

    def __init__(self, results: Results, rest_ms: int, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.found: F | None = None
        self.profile = Profile()
        self.key = ""
        self._results = results
        self._state: AppState | None = None
        self._findings: Findings | None = None
        self._refused: set[str] = set()
        self._keyed: tuple[AppState | None, Profile | None, str] = (None, None, "")
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(rest_ms)
        self._rest.timeout.connect(self._ask)

    @property
    def is_current(self) -> bool:
        """Whether `found` is of the present plan and profile."""
        return self.found is not None and bool(self.key) and self.key == self._present_key()

    def rests_on(self, findings: Findings | None) -> bool:
        """Whether these are the findings that it follows."""
        return self._findings is findings

    def set_profile(self, profile: Profile) -> None:
        """Another printer or resin from now on."""
        if profile != self.profile:
            self.profile = profile
            self._restart()
            self.changed.emit()

    def follow(self, state: AppState, findings: Findings, *, passing: bool = False) -> None:
        """This is the plan now, and these are the findings it rests on. passing: it is a step of a drag; nothing is
        asked for until `rest`."""
        if state is self._state and findings is self._findings:
            return
        if findings is not self._findings:
            self.found, self.key = None, ""
        self._state, self._findings = state, findings
        if passing:
            self._pause()
        else:
            self._restart()

    def rest(self) -> None:
        """The drag is over."""
        self._restart()

    def leave(self) -> None:
        """No part, or none that is known."""
        self._rest.stop()
        for lane in self.lanes:
            lane.stop()
        had = self.found
        self._state = self._findings = self.found = None
        self.key = ""
        if had is not None:
            self.changed.emit()

    def retry(self) -> None:
        """Try again what failed, too."""
        self._refused.clear()

    def _pause(self) -> None:
        self._rest.stop()

    def _restart(self) -> None:
        """Known results are shown at once; others are asked for after a rest."""
        if self._state is not None and not self._show_known():
            self._rest.start()

    def _show_known(self) -> bool:
        """Show what is known of the present plan and profile; False if that is nothing."""
        if self._state is None:
            return True
        key = self._present_key()
        found: F | None = self._results.get(key)
        if found is None:
            return False
        self._rest.stop()
        if found is not self.found or key != self.key:
            self.found, self.key = found, key
            self.changed.emit()
        return True

    def _present_key(self) -> str:
        """Key of the present plan and profile, "" without a part; asked for many times while a vent is dragged."""
        state, profile = self._state, self.profile
        if state is None:
            return ""
        if self._keyed[0] is not state or self._keyed[1] is not profile:
            self._keyed = (state, profile, self._key_of(state, profile))
        return self._keyed[2]

    def _key_of(self, state: AppState, profile: Profile) -> str:
        raise NotImplementedError

    def _ask(self) -> None:
        raise NotImplementedError
