"""A session's openings that the model came with: closed in the worker, as one edit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from PySide6.QtCore import QObject

from ventplanner.app.closing_openings import close_opening
from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState, plan_key
from ventplanner.geometry.solid import Body, Solid
from ventplanner.ui.journal import Journal
from ventplanner.ui.units import sentence
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.joining import Joining
from ventplanner.ui.work.messages import CLOSING, CloseOrder, Part

if TYPE_CHECKING:
    from ventplanner.analysis.openings import Opening

STAYS = "The opening stays as it is"


class Closing(Joining):
    """The cut needs seconds on a large part, and then the part is analysed anew: so it is done by the worker."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._pool.done.connect(self._closed)
        self._pool.failed.connect(self._not_closed)
        self._pool.busy_changed.connect(
            lambda: self._set_busy(j.CLOSING, self._pool.is_busy(CLOSING), cancellable=True)
        )

    def close_opening(self, opening: Opening) -> None:
        """Close an opening of the part as it is analysed now; `failed` tells why it stays, if it does."""

        def begin() -> None:
            state, findings = self.state, self.findings
            if state is None or findings is None or self.stale or self._pool.is_busy(CLOSING):
                return
            plan = state.plan

            def order(part: Part) -> CloseOrder:
                return CloseOrder(part, plan, state.pose, state.options, opening)

            self._pool.submit(CLOSING, f"{self._work_key(state)} {plan_key(state)}", state.solid, order)

        self._after_fit(begin)

    def cancel_closing(self) -> None:
        """Give it up."""
        self._pool.cancel(CLOSING)
        self.said.emit(f"Cancelled. {STAYS}.")

    def _closed(self, name: str, key: str, answer: object) -> None:
        state = self.state
        if name != CLOSING or state is None:
            return
        if key != f"{self._work_key(state)} {plan_key(state)}":
            self.said.emit(f"The part or its vents have changed meanwhile. {STAYS}.")
            return
        found = cast("dict[str, Any]", answer)
        names = [body.name for body in state.solid.bodies]
        spans = found["bodies"].tolist()
        bodies = tuple(Body(name, start, stop) for name, (start, stop) in zip(names, spans, strict=True))
        solid = Solid(found["vertices"], found["faces"], bodies, state.solid.source)
        x, y, z, width = found["place"].tolist()
        late = bytes(found["late"]).decode("utf-8")

        def edit(now: AppState) -> Edit:
            return close_opening(now, solid, (x, y, z), width)

        self._edit(edit)
        if late:
            self.said.emit(sentence(late))

    def _not_closed(self, name: str, _key: str, error: object) -> None:
        if name == CLOSING:
            self._fail(error, STAYS)
