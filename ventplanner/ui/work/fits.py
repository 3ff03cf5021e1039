"""Fits that take a moment: of figures that were typed and of steps of a drag, in a thread; and what waits for them."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.app import edits
from ventplanner.app.edits import Edit
from ventplanner.app.history import History
from ventplanner.app.state import AppState
from ventplanner.errors import InputError, VentplannerError
from ventplanner.plan.model import Vent
from ventplanner.ui.journal import Journal
from ventplanner.ui.units import sentence
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.core import Core
from ventplanner.ui.work.shaping import Fitting, Naming, Shaper, Step

if TYPE_CHECKING:
    from ventplanner.analysis.cups import Cups

FIT_PATIENCE_S = 0.25
"""An edit waits so long for a fit that was asked for before it, then goes on by itself when that has come; usually a
fit takes a few hundredths of a second."""

STEP_PAUSE_S = 1.0
"""Steps of one figure by the arrow keys are one entry of the history, as long as none takes longer than this to follow.
A figure that was typed is an entry of its own."""

NOT_DONE = "That was not possible"


class Fits(Core):
    """A session's edits in their order: an edit that is asked for while a fit is on its way comes after it."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._refusal = ""
        self._asked: Vent | None = None  # the vent that was shaped last, as it was before
        self._dragged = ""  # the vent that a drag moves, in the words of a selection
        self._placed_by_drag = ""  # the id of the vent that a dragged proposal has become
        self._ending = False
        self._before_drag: History[AppState] | None = None
        self._later: list[Callable[[], None]] = []  # what was asked for while a fit was on its way, in its order
        self._when_known: list[Callable[[], None]] = []  # figures that were typed before the part was known again
        self._last_step = ("", 0.0)
        self._placing: Naming | None = None  # of a new vent, until it stands
        self._shaper = Shaper(self)
        self._shaper.stepped.connect(self._stepped)
        self._shaper.failed.connect(self._not_shaped)

    @property
    def _present(self) -> AppState:
        if self._history is None:
            raise InputError("There is no part.", "Open one first.")
        return self._history.state

    @property
    def is_settled(self) -> bool:
        """Whether all that follows from the user's wishes is known, and none of them waits."""
        return super().is_settled and not self._is_waiting

    @property
    def is_unsaved(self) -> bool:
        """Whether closing would lose work, also a figure whose fit is still on its way."""
        return super().is_unsaved or self._is_waiting

    @property
    def is_dragging(self) -> bool:
        """Whether a vent is in hand."""
        return bool(self._dragged)

    @property
    def _is_waiting(self) -> bool:
        """Whether a figure or the end of a drag is being fitted, or something was asked for after that."""
        return bool(self._later) or (self._shaper.lane.is_busy and (self._ending or not self._dragged))

    def _edit(self, make: Callable[[AppState], Edit], stepping: bool = False) -> None:
        """Make an edit of the present state, after what was asked for before."""

        def do() -> None:
            if self._history is None:
                return
            try:
                edit = make(self._history.state)
            except VentplannerError as error:
                self._fail(error, NOT_DONE)
                return
            self._did(self._as_step(edit, stepping))

        self._after_fit(do)

    def _after_fit(self, do: Callable[[], None]) -> None:
        """Do this after the fits that were asked for before: at once, or when they have come. Nothing typed is lost."""
        if not self._later and self._shaper.lane.is_busy:
            self._shaper.lane.finish(FIT_PATIENCE_S)
        if self._is_waiting:
            self._later.append(do)
            return
        self._leave_drag()  # one in the middle, whose button is still held
        do()

    def _go_on(self) -> None:
        """Do what waited for a fit, up to the next one that takes time."""
        while self._later and not self._shaper.lane.is_busy:
            self._later.pop(0)()

    def _figure(self, name: Naming, stepping: bool) -> Naming:
        return lambda fitted: self._as_step(name(fitted), stepping)

    def _as_step(self, edit: Edit, stepping: bool) -> Edit:
        """The edit as one that merges with the steps before it, or with none."""
        key, before = edit.coalesce_key or "", self._last_step
        self._last_step = (key if stepping else "", time.monotonic())
        if not stepping or key != before[0] or self._last_step[1] - before[1] > STEP_PAUSE_S:
            self._history = None if self._history is None else self._history.sealed()
        return edit if stepping else edit._replace(coalesce_key=None)

    def _shape(self, vent_id: str, fitting: Fitting, name: Naming, check: Callable[[], object]) -> None:
        """Fit a vent to a figure that was typed, after what was asked for before."""

        def begin() -> None:
            try:
                check()
                vent = self._to_shape(vent_id)
                self._make_sure_it_will_be_known()
            except VentplannerError as error:
                self._fail(error, NOT_DONE)
                return
            if self.findings is None or self.stale:
                self._when_known.append(begin)
            else:
                self._ask(vent, fitting, name)

        if self._is_waiting:
            self._later.append(begin)
        else:
            begin()

    def _to_shape(self, vent_id: str) -> Vent:
        """The vent of an id, or the proposal of a word such as "proposal 3"; InputError if there is none any more."""
        proposal = self._still_proposed(vent_id)
        return edits.vent_of(self._present, vent_id.rpartition(" ")[2]) if proposal is None else proposal

    def _still_proposed(self, word: str) -> Vent | None:
        kind, _, name = word.rpartition(" ")
        return next((v for v in self.proposals if v.id == name), None) if kind == "proposal" else None

    def _make_sure_it_will_be_known(self) -> None:
        if self.stale and self.interrupted is not None:
            raise InputError("The part is not analysed as it hangs now.", "Analyse it again, or undo the last change.")

    def _findings_came(self) -> None:
        super()._findings_came()
        if not self.stale:
            waiting, self._when_known = self._when_known, []
            self._later += waiting
            self._go_on()

    def _proposals_came(self) -> None:
        # What was told of a proposal is no longer true when widths that have come since make another one of it.
        if self._refusal and not self._dragged and self._asked not in (*self.proposals, *self.plan.vents):
            self._refusal = ""
        super()._proposals_came()

    def _ask(self, vent: Vent, fitting: Fitting, name: Naming) -> None:
        if self.findings is not None and not self.stale and self.state is not None:
            self._asked = vent
            self._shaper.ask(self.findings, self.state, vent, fitting, name)

    def _stepped(self, step: Step) -> None:
        """A step has been computed: it becomes an edit, unless it does not fit."""
        is_new = step.name is self._placing
        if is_new and step.refusal:
            self.said.emit(f"No vent fits there: {sentence(step.refusal)}.")
        elif step.refusal != self._refusal or (step.refusal and not self._dragged):
            self._refusal = step.refusal
            self.plan_changed.emit()
            self._tell_changed()
        if step.vent is not None and step.preview is not None and self._history is not None:
            self._take(step.name, step.vent, step.preview)
            if is_new and self.plan.vents:
                self.select(f"vent {self.plan.vents[-1].id}")
        self._shaped()

    def _take(self, name: Naming, vent: Vent, preview: Cups) -> None:
        try:
            edit = name(vent)
        except InputError:
            return  # the vent has been removed meanwhile
        self._analyst.know(edit.state, preview, passing=bool(self._dragged))
        if self._history is not None:
            self._go(self._history.did(*edit), journal=not self._dragged)

    def _not_shaped(self, error: object, what: str) -> None:
        self._fail(error, what)
        self._shaped()

    def _shaped(self) -> None:
        """A fit has come, or failed."""
        if self._ending and not self._shaper.lane.is_busy:
            self._end_drag()
        self._go_on()

    def _end_drag(self) -> None:
        if self._ending and self._refusal and self._dragged:
            what, _, name = self._dragged.rpartition(" ")
            stays = f"Vent {name} is where it last fitted" if what == "vent" else f"Vent {name} is as it was proposed"
            self.said.emit(f"{stays}; where it was let go, {sentence(self._refusal)}.")
        was_dragging, self._dragged, self._placed_by_drag, self._ending = bool(self._dragged), "", "", False
        self._before_drag = None
        self._analyst.rest()
        if self._refusal:
            self._refusal = ""
            self.plan_changed.emit()
            self._tell_changed()
        if was_dragging and self._history is not None:
            self._go(self._history.sealed())
            self._write_journal()

    def _end(self) -> None:
        self._leave_drag()  # its last step is not for the part that is opened next
        self._later.clear()
        self._when_known.clear()
        super()._end()

    def _leave_drag(self) -> None:
        self._shaper.lane.stop()
        self._end_drag()
