"""Follows what a look inside finds, and what supports from a second file close: at rest, in a thread of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from ventplanner.app.results import Results
from ventplanner.app.state import AppState, analysis_key, fields_of, key_of, plan_key
from ventplanner.profile import Profile
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings
    from ventplanner.analysis.inside import Inside
    from ventplanner.app.left import Left

_CANNOT = "The look inside failed"


@dataclass(frozen=True, eq=False)
class Looked:
    """inside: of the part as it came. closed: what supports stand in the way of with the accepted vents, to be
    done."""

    inside: Inside
    closed: tuple[Left, ...]


def look(findings: Findings, state: AppState, profile: Profile, inside: Inside | None) -> Looked:
    """Look inside, unless that is known already, and see what the supports close."""
    from ventplanner.analysis.inside import look_inside
    from ventplanner.app.minding_supports import left_by_supports

    return Looked(inside or look_inside(findings, profile, state.limits), left_by_supports(findings, state.plan))


class Looking(QObject):
    """`found` is None until it is known of the present findings; of another plan it stays until that is known."""

    changed = Signal()
    failed = Signal(object, str)

    def __init__(self, results: Results, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.found: Looked | None = None
        self._results = results
        self._key = self._base = self._shown_key = ""
        self._refused: set[str] = set()
        self.lane = Lane("look inside", self, keep_late=True)
        self.lane.done.connect(self._keep)
        self.lane.failed.connect(self._fail)

    @property
    def closed(self) -> tuple[Left, ...]:
        """What supports stand in the way of, if that is known of the present plan."""
        return self.found.closed if self.found is not None and self._shown_key == self._key else ()

    def follow(self, state: AppState, findings: Findings, profile: Profile, *, passing: bool) -> None:
        """These are the plan and the findings now. passing: a step of a drag, which is not looked at."""
        base = key_of("inside", analysis_key(state), profile.layer_height_mm, fields_of(state.limits))
        if base != self._base:
            self._base, self.found = base, None
        if passing:
            return
        self._key = f"{base} {plan_key(state) if findings.obstacles is not None else ''}"
        known: Looked | None = self._results.get(self._key)
        if known is not None:
            self._show(self._key, known)
        elif self._key not in self._refused:
            inside = self.found.inside if self.found is not None else None
            self.lane.ask(self._key, lambda _: look(findings, state, profile, inside))

    def leave(self) -> None:
        """No part."""
        self.lane.stop()
        self.found, self._key, self._base = None, "", ""
        self._refused.clear()

    def retry(self) -> None:
        """Try again what failed, too."""
        self._refused.clear()

    def _show(self, key: str, known: Looked) -> None:
        if known is not self.found or key != self._shown_key:
            self.found, self._shown_key = known, key
            self.changed.emit()

    def _keep(self, key: str, result: object) -> None:
        self._results.put(key, result)
        if key == self._key and isinstance(result, Looked):
            self._show(key, result)

    def _fail(self, key: str, error: object) -> None:
        self._refused.add(key)
        self.failed.emit(error, _CANNOT)
