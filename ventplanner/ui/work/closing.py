"""A session's openings that the model came with: closed or moved in the worker, as one edit."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from PySide6.QtCore import QObject, Signal

from ventplanner.app.closing_openings import close_opening, move_opening
from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState, plan_key
from ventplanner.geometry.solid import Solid
from ventplanner.ui.journal import Journal
from ventplanner.ui.units import sentence
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.lanes import Lane
from ventplanner.ui.work.messages import CLOSING, CloseOrder, Part
from ventplanner.ui.work.replacing import Replacing

if TYPE_CHECKING:
    from ventplanner.analysis.openings import Opening
    from ventplanner.geometry.solid import FloatArray
    from ventplanner.plan.model import Plan, Vent
    from ventplanner.progress import Progress

STAYS = "The opening stays as it is"


class Closing(Replacing):
    """The cut needs seconds on a large part, and then the part is analysed anew: so it is done by the worker."""

    move_wanted = Signal(object)
    """An opening that shall be somewhere else: the next click says where."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._instead: Vent | None = None  # the vent that stands for the opening that is being closed
        self._moving = Lane("opening elsewhere", self)
        self._moving.done.connect(lambda _, answer: answer())
        self._moving.failed.connect(lambda _, error: self._fail(error, STAYS))
        self._pool.done.connect(self._closed)
        self._pool.failed.connect(self._not_closed)
        self._pool.busy_changed.connect(
            lambda: self._set_busy(j.CLOSING, self._pool.is_busy(CLOSING), cancellable=True)
        )

    def close_opening(self, opening: Opening) -> None:
        """Close an opening of the part as it is analysed now; `failed` tells why it stays, if it does."""

        def begin() -> None:
            state = self.state
            if state is not None and self._may_close:
                self._order(state, opening, state.plan, None)

        self._after_fit(begin)

    def take_opening(self, opening: Opening) -> None:
        """Have the next click in the view say where an opening is to go."""
        self.move_wanted.emit(opening)

    def move_opening(self, opening: Opening, point: FloatArray, normal: FloatArray) -> None:
        """Drill a vent as wide as an opening at a point of the skin, (3,) build point and outward normal, and close the
        opening, as one edit; what does not go is told by `said` or `failed`, and then nothing is changed."""
        at = np.array(point, dtype=np.float64), np.array(normal, dtype=np.float64)

        def begin() -> None:
            state, findings = self.state, self.findings
            if state is None or findings is None or not self._may_close:
                return
            name, key = self._free_name(), self._closing_key(state)
            from ventplanner.app.from_openings import is_beside

            if is_beside(opening, at[0]):
                self._order(state, opening, state.plan, None, (name, *at))
                return

            def work(_progress: Progress) -> Callable[[], None]:
                from ventplanner.app.from_openings import elsewhere

                vent = elsewhere(findings.keeping_clear(state.keep_clear), opening, state.plan, name, at)
                return lambda: self._placed_elsewhere(key, opening, vent)

            self._moving.ask(f"{key} {at}", work)

        self._after_fit(begin)

    def _placed_elsewhere(self, key: str, opening: Opening, vent: Vent | str) -> None:
        state = self.state
        if isinstance(vent, str):
            self.said.emit(f"No vent fits there: {sentence(vent)}. {STAYS}.")
        elif state is not None and key == self._closing_key(state) and self._may_close:
            self._order(state, opening, state.plan.with_vent(vent), vent)

    @property
    def _may_close(self) -> bool:
        return self.findings is not None and not self.stale and not self._pool.is_busy(CLOSING)

    def _closing_key(self, state: AppState) -> str:
        return f"{self._work_key(state)} {plan_key(state)}"

    def _order(
        self,
        state: AppState,
        opening: Opening,
        plan: Plan,
        instead: Vent | None,
        beside: tuple[str, FloatArray, FloatArray] | None = None,
    ) -> None:
        """beside: a vent that can only be fitted once the opening is closed, see `CloseOrder.instead`."""
        self._instead = instead

        def order(part: Part) -> CloseOrder:
            return CloseOrder(part, plan, state.pose, state.options, opening, beside, state.keep_clear)

        self._pool.submit(CLOSING, self._closing_key(state), state.solid, order)

    def cancel_closing(self) -> None:
        """Give it up."""
        self._pool.cancel(CLOSING)
        self.said.emit(f"Cancelled. {STAYS}.")

    def _closed(self, name: str, key: str, answer: object) -> None:
        state = self.state
        if name != CLOSING or state is None:
            return
        if key != self._closing_key(state):
            self.said.emit(f"The part or its vents have changed meanwhile. {STAYS}.")
            return
        found = cast("dict[str, Any]", answer)
        x, y, z, width = found["place"].tolist()
        late = bytes(found["late"]).decode("utf-8")
        fitted = bytes(found["vent"])
        vent = pickle.loads(fitted) if fitted else self._instead

        def edit(now: AppState, solid: Solid) -> Edit:
            if vent is None:
                return close_opening(now, solid, (x, y, z), width)
            return move_opening(now, solid, (x, y, z), width, vent)

        def tell() -> None:
            if vent is not None:
                self.select(f"vent {vent.id}")
            if late:
                self.said.emit(sentence(late))

        self._replace_part(found, edit, lambda now: key == self._closing_key(now), tell)

    def _not_closed(self, name: str, _key: str, error: object) -> None:
        if name == CLOSING:
            self._fail(error, STAYS)
