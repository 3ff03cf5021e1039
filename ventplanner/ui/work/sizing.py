"""Follows how wide the proposals must be: asked for once the flow of the present plan is known, at leisure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from ventplanner.app.results import Results
from ventplanner.app.state import (
    AppState,
    analysis_key,
    fields_of,
    key_of,
    marks_key,
    offered,
    open_proposals,
    same_place,
)
from ventplanner.plan.model import Vent
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.app.sizing import SizedAll
    from ventplanner.flow.sizing import Size
    from ventplanner.ui.work.breathing import Breathing

_CANNOT = "How wide the vents must be could not be worked out"


class Sizing(QObject):
    """Widths of the open proposals. Until those of the present plan are known, the last known ones are shown."""

    changed = Signal()
    failed = Signal(object, str)

    def __init__(self, results: Results, breathing: Breathing, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.found: SizedAll | None = None
        self._results, self._breathing = results, breathing
        self._state: AppState | None = None
        self._open: tuple[Vent, ...] = ()
        self._key = self._base = ""
        self._widths: dict[str, Vent] = {}
        self._refused: set[str] = set()
        self.lane = Lane("sizes", self, impatient=True, keep_late=True)
        self.lane.done.connect(self._keep)
        self.lane.failed.connect(self._fail)
        breathing.changed.connect(self._ask)

    @property
    def is_current(self) -> bool:
        """Whether `found` is of the present plan, proposals and profile."""
        return self.found is not None and bool(self._key) and self._key == self._present_key()

    def follow(self, state: AppState, proposals: Sequence[Vent] | None) -> None:
        """This is the plan now, and these are all proposals; None while they are looked for."""
        self._state = state
        self._open = () if proposals is None else offered(state, proposals)
        base = key_of(analysis_key(state), fields_of(state.rules), fields_of(self._breathing.profile), marks_key(state))
        if base != self._base:
            self._base, self._widths, self.found, self._key = base, {}, None, ""
        self._ask()

    def leave(self) -> None:
        """No part."""
        self.lane.stop()
        self._state = self.found = None
        self._open, self._widths = (), {}
        self._key = self._base = ""
        self._refused.clear()

    def retry(self) -> None:
        """Try again what failed, too."""
        self._refused.clear()

    def shown(self, state: AppState, open_ones: tuple[Vent, ...]) -> tuple[Vent, ...]:
        """The open proposals as wide as is known that they must be, and the second ones beside them."""
        if state.rules.size != "need" or not self._widths:
            return open_ones
        known = {v.id for v in open_ones}
        alone = {cavity for cavity, _ in state.plan.left_alone}
        more = open_proposals(state, (v for name, v in self._widths.items() if name not in known))
        return (*(self._wide(v) for v in open_ones), *(v for v in more if v.cavity not in alone))

    def _wide(self, vent: Vent) -> Vent:
        known = self._widths.get(vent.id)
        return known if known is not None and same_place(known, vent) else vent

    def size_of(self, vent_id: str) -> Size | None:
        """What is asked of a proposal; None as long as that is not known."""
        return self.found.proposals.sizes.get(vent_id) if self.found is not None and self.is_current else None

    def _present_key(self) -> str:
        if self._state is None:
            return ""
        from ventplanner.app.sizing import sizing_key

        return sizing_key(self._state, self._open, self._breathing.profile)

    def _ask(self) -> None:
        state, breathing = self._state, self._breathing
        if state is None or not breathing.is_current or breathing.found is None:
            return
        key = self._present_key()
        known: SizedAll | None = self._results.get(key)
        if known is not None:
            self._show(key, known)
        elif key not in self._refused:
            from ventplanner.app.sizing import size_all

            found, open_ones = breathing.found, self._open
            self.lane.ask(key, lambda progress: size_all(found, state, open_ones, progress))

    def _show(self, key: str, known: SizedAll) -> None:
        if known is self.found and key == self._key:
            return
        self.found, self._key = known, key
        self._widths = {v.id: v for v in known.proposals.vents}
        self.changed.emit()

    def _keep(self, key: str, result: object) -> None:
        self._results.put(key, result)
        self._ask()

    def _fail(self, key: str, error: object) -> None:
        self._refused.add(key)
        self.failed.emit(error, _CANNOT)
