"""Follows how the part breathes: rooms once for each analysis, then the flow for each plan and profile, at leisure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from ventplanner.app.results import Results
from ventplanner.app.state import AppState
from ventplanner.profile import Profile
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings
    from ventplanner.app.breathing import Breathing as Found
    from ventplanner.flow.ground import Ground

REST_MS = 150
"""The flow is asked for when the plan has been at rest for so long: nothing competes with the drag of a vent."""

_CANNOT = "The suction could not be computed"


class Breathing(QObject):
    """`found` is the flow of the last plan that was solved; `is_current` tells whether that is the present one."""

    changed = Signal()
    failed = Signal(object, str)

    def __init__(self, results: Results, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.found: Found | None = None
        self.profile = Profile()
        self.key = ""
        self._results = results
        self._state: AppState | None = None
        self._findings: Findings | None = None
        self._refused: set[str] = set()
        self._keyed: tuple[AppState | None, Profile | None, str] = (None, None, "")
        self._grounding = Lane("rooms", self, impatient=True, keep_late=True)
        self._flowing = Lane("flow", self, impatient=True, keep_late=True)
        self.lanes = (self._grounding, self._flowing)
        for lane in self.lanes:
            lane.done.connect(self._keep)
            lane.failed.connect(self._fail)
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self._ask)

    @property
    def is_current(self) -> bool:
        """Whether `found` is of the present plan and profile."""
        return self.found is not None and bool(self.key) and self.key == self._present_key()

    @property
    def is_busy(self) -> bool:
        """Whether an answer is on the way."""
        return self._rest.isActive() or any(lane.is_busy for lane in self.lanes)

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
            self._rest.stop()
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

    def _restart(self) -> None:
        """Known results are shown at once; others are asked for after a rest."""
        if self._state is not None and not self._show_known():
            self._rest.start()

    def _show_known(self) -> bool:
        if self._state is None:
            return True
        key = self._present_key()
        found = self._results.get(key)
        if found is None:
            return False
        self._rest.stop()
        if found is not self.found:
            self.found, self.key = found, key
            self.changed.emit()
        return True

    def _ask(self) -> None:
        state, findings, profile = self._state, self._findings, self.profile
        if state is None or findings is None or self._show_known():
            return
        from ventplanner.app.breathing import breathing, ground_key
        from ventplanner.flow.ground import ground

        key = ground_key(state)
        base: Ground | None = self._results.get(key)
        if base is None:
            if key not in self._refused:
                self._grounding.ask(key, lambda progress: ground(findings, progress))
            return
        key, known = self._present_key(), base
        if key not in self._refused:
            self._flowing.ask(key, lambda progress: breathing(known, profile, state.plan, progress))

    def _present_key(self) -> str:
        """Key of the present plan and profile, "" without a part; asked for many times while a vent is dragged."""
        state, profile = self._state, self.profile
        if state is None:
            return ""
        if self._keyed[0] is not state or self._keyed[1] is not profile:
            from ventplanner.app.breathing import flow_key

            self._keyed = (state, profile, flow_key(state, profile))
        return self._keyed[2]

    def _keep(self, key: str, result: object) -> None:
        self._results.put(key, result)
        self._ask()

    def _fail(self, key: str, error: object) -> None:
        self._refused.add(key)
        self.failed.emit(error, _CANNOT)
