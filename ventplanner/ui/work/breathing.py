"""Follows how the part breathes: rooms once for each analysis, then the flow for each plan and profile, at leisure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.app.results import Results
from ventplanner.app.state import AppState
from ventplanner.profile import Profile
from ventplanner.ui.work.follower import Follower
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.app.breathing import Breathing as Found  # noqa: F401  named in the class line
    from ventplanner.flow.ground import Ground

REST_MS = 150
"""The flow is asked for when the plan has been at rest for so long: nothing competes with the drag of a vent."""

_CANNOT = "The suction could not be computed"


class Breathing(Follower["Found"]):
    """`found` is the flow of the last plan that was solved."""

    def __init__(self, results: Results, parent: QObject | None = None) -> None:
        super().__init__(results, REST_MS, parent)
        self._grounding = Lane("rooms", self, impatient=True, keep_late=True)
        self._flowing = Lane("flow", self, impatient=True, keep_late=True)
        self.lanes = (self._grounding, self._flowing)
        for lane in self.lanes:
            lane.done.connect(self._keep)
            lane.failed.connect(self._fail)

    @property
    def is_busy(self) -> bool:
        """Whether an answer is on the way."""
        return self._rest.isActive() or any(lane.is_busy for lane in self.lanes)

    def _key_of(self, state: AppState, profile: Profile) -> str:
        from ventplanner.app.breathing import flow_key

        return flow_key(state, profile)

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

    def _keep(self, key: str, result: object) -> None:
        self._results.put(key, result)
        self._ask()

    def _fail(self, key: str, error: object) -> None:
        self._refused.add(key)
        self.failed.emit(error, _CANNOT)
