"""Follows how the part prints: for the present plan and profile, when somebody looks at it, and at leisure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.app.results import Results
from ventplanner.app.state import AppState
from ventplanner.profile import Profile
from ventplanner.progress import Progress
from ventplanner.ui.work.follower import Follower
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.app.printing import Printed, WayOut  # noqa: F401  named in the class line
    from ventplanner.plan.model import Vent

REST_MS = 600
"""A plan that was just changed is looked at again when it has been at rest for so long: it takes seconds."""

_CANNOT = "How the part prints could not be computed"


class Printing(Follower["Printed"]):
    """`found` is the part as printed, with the plan and profile that it was last asked for; `is_current` tells whether
    these are the present ones. Nothing is computed before `check`; while it is `watched`, every plan is."""

    def __init__(self, parent: QObject | None = None) -> None:
        # Its own store: a part as printed is as large as many other results, and must not push them out.
        super().__init__(Results(), REST_MS, parent)
        self._asked = ""
        self._ways: dict[str, WayOut] = {}
        self._watchers: set[str] = set()
        self._unsized: set[str] = set()
        self.lane = Lane("as printed", self, impatient=True, keep_late=True)
        self.lane.done.connect(self._keep)
        self.lane.failed.connect(self._fail)
        self.sizing = Lane("ways out", self, impatient=True, keep_late=True)
        self.sizing.done.connect(lambda _key, _: self.changed.emit())
        self.sizing.progressed.connect(lambda _step, _share: self.changed.emit())
        self.sizing.failed.connect(self._not_sized)
        self.lanes = (self.lane, self.sizing)

    @property
    def is_busy(self) -> bool:
        """Whether an answer is on the way."""
        return self._rest.isActive() or self.lane.is_busy

    @property
    def is_sizing(self) -> bool:
        """Whether a way out is being looked for."""
        return self.sizing.is_busy

    def way_out(self, vent: Vent) -> WayOut | None:
        """What makes a vent of the present plan print open; None if it does, or as long as that is not known."""
        from ventplanner.app.printing import way_out_key

        return self._ways.get(way_out_key(self.key, vent)) if self.is_current else None

    def watch(self, who: str, on: bool) -> None:
        """Somebody looks at the part as printed from now on, or no longer."""
        was = bool(self._watchers)
        (self._watchers.add if on else self._watchers.discard)(who)
        if on and not was:
            self.check()
        elif not self._watchers and self._asked != self._present_key():
            self._rest.stop()

    def check(self) -> None:
        """Compute it for the present plan and profile, also if that was cancelled or failed before."""
        key = self._present_key()
        self._asked = key
        self._refused.discard(key)
        self._unsized.discard(key)
        self._ask()

    def cancel(self) -> str:
        """Stop, until somebody asks for it again; what that means, in words."""
        key, busy = self._present_key(), self.is_busy
        if busy:
            self._refused.add(key)
            self._asked = ""
            self._rest.stop()
            self.lane.stop()
        else:
            self._unsized.add(key)
            self.sizing.stop()
        self.changed.emit()
        if busy:
            return "Cancelled: how the part prints is not known."
        return "Cancelled: no more sizes that print open are looked for."

    def _pause(self) -> None:
        super()._pause()
        self.lane.stop()

    def leave(self) -> None:
        """No part, or none that is known."""
        self._asked = ""
        self._results.clear()
        self._ways.clear()
        self._refused.clear()
        self._unsized.clear()
        super().leave()

    def retry(self) -> None:
        """Try again what failed, too."""
        super().retry()
        self._unsized.clear()

    def _key_of(self, state: AppState, profile: Profile) -> str:
        from ventplanner.app.printing import printed_key

        return printed_key(state, profile)

    def _restart(self) -> None:
        """A known result is shown at once; another one is asked for after a rest, if anybody looks."""
        if self._state is None or self._show_known():
            return
        if self._watchers:
            self._rest.start()
        elif self.lane.is_busy:
            self.lane.stop()  # of a plan that is no longer the present one

    def _show_known(self) -> bool:
        if not super()._show_known():
            return False
        self._ask_ways()
        return True

    def _ask(self) -> None:
        state, findings, profile, before = self._state, self._findings, self.profile, self.found
        key = self._present_key()
        if state is None or findings is None or key in self._refused or self._show_known():
            return
        from ventplanner.app.printing import printing

        self.sizing.stop()
        self.lane.ask(key, lambda progress: printing(findings, state.plan, profile, progress, before))
        self.changed.emit()

    def _ask_ways(self) -> None:
        """A way out for each vent that prints closed, one after the other; each is known as soon as it is found."""
        state, findings, found = self._state, self._findings, self.found
        if state is None or findings is None or found is None or not self.is_current or self.key in self._unsized:
            return
        from ventplanner.app.printing import closed_vents, way_out, way_out_key

        plan, ways = state.plan, self._ways
        unknown = {way_out_key(self.key, v): v for v in closed_vents(found, plan)}
        wanted = [(key, vent) for key, vent in unknown.items() if key not in ways]

        def work(progress: Progress) -> None:
            for k, (key, vent) in enumerate(wanted):

                def step(_phase: str, share: float, done: int = k, name: str = vent.id) -> None:
                    progress(f"Vent {name}", (done + share) / len(wanted))

                step("", 0.0)
                ways[key] = way_out(found, findings, plan, vent, step)

        if wanted:
            self.sizing.ask(self.key, work)

    def _keep(self, key: str, result: object) -> None:
        if self._state is None:
            return
        self._results.put(key, result)
        self._show_known()
        self.changed.emit()

    def _fail(self, key: str, error: object) -> None:
        self._refused.add(key)
        self.failed.emit(error, _CANNOT)
        self.changed.emit()

    def _not_sized(self, key: str, error: object) -> None:
        self._unsized.add(key)
        self.failed.emit(error, "No size that prints open could be found")
        self.changed.emit()
