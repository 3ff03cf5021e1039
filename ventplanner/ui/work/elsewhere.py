"""A session's search for other places of a vent, and the walk through them. In a thread; nothing waits for it."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject

from ventplanner.app.edits import Edit
from ventplanner.app.history import History
from ventplanner.app.state import AppState
from ventplanner.plan.model import Vent
from ventplanner.plan.refusal import place_of_refusal
from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.units import sentence
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.lanes import Lane
from ventplanner.ui.work.sheets import Sheets

if TYPE_CHECKING:
    from ventplanner.app.elsewhere import Walk
    from ventplanner.geometry.solid import FloatArray

_CANNOT = "Other places for the vent could not be looked for"
PAUSE_S = 0.02
NONE_THERE = "No other place is better in anything: where it is, it breathes best and is hidden best."


class Elsewhere(Sheets):
    """Walks through the places of the selected vent or proposal; `changed` tells when a list has come."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._walk: Walk | None = None
        self._walked: str = ""  # the word of the vent that is walked or looked for
        self._steps = 0
        self._rest = ""  # key of what the walk rests on
        self._places = Lane("places", self, impatient=True)
        self._places.done.connect(lambda _, answer: self._places_came(*answer))
        self._places.failed.connect(lambda _, error: self._fail(error, _CANNOT))
        self._places.busy_changed.connect(self._tell_changed)
        self._measuring = Lane("widths of places", self, impatient=True)
        self._measuring.done.connect(lambda _, answer: self._widths_came(*answer))
        self._measuring.failed.connect(lambda _, error: self._fail(error, _CANNOT))
        self._asking = Lane("why not here", self, impatient=True)
        self._asking.done.connect(lambda _, text: self._answered(text))
        self._why_not: object = ""  # the answer, as long as its place is shown
        self._asking.failed.connect(lambda _, error: self._fail(error, _CANNOT))

    @property
    def refused_at(self) -> FloatArray | None:
        """(3,) build point that forbids what is tried now, or a vent where it was last asked for; None for none."""
        here = super().refused_at
        return place_of_refusal(self._why_not) if here is None else here

    def select(self, what: str) -> None:
        """Select a cavity, cup, vent or proposal; what was said of another place is no longer shown."""
        self._forget_answer()
        super().select(what)

    def _answered(self, text: object) -> None:
        self._why_not = text
        self.said.emit(sentence(str(text)))
        self._tell_changed()

    def _forget_answer(self) -> None:
        if self._why_not:
            self._why_not = ""
            self._tell_changed()

    @property
    def is_looking(self) -> bool:
        """Whether places are being looked for."""
        return self._places.is_busy

    def walk_of(self, word: str) -> Walk | None:
        """The places of "vent 3" or "proposal 3", as long as it stands where its walk has put it."""
        now, state = self._walk, self.state
        if now is None or state is None or self.stale or word != self._walked:
            return None
        if not now.is_of(self._find(word), self.plan):
            return None
        from ventplanner.app.elsewhere import rest_key

        return now if rest_key(state, now) == self._rest else None

    def step_place(self, by: int) -> None:
        """Put the selected vent to the next of its places, or the one before; they are looked for first, if need be."""
        word, now = self.selected, self.walk_of(self.selected)
        if now is None:
            self._steps = by
            self.look_for_places(word)
        elif len(now.places) > 1:
            self.take_place(word, (now.at + by) % len(now.places))
        else:
            self.said.emit(NONE_THERE)

    def look_for_places(self, word: str) -> None:
        """Look for other places of a vent or a proposal, in a thread."""
        vent, state, findings = self._find(word), self.state, self.findings
        if vent is None or state is None or findings is None or self.stale:
            self._steps = 0
            return
        from ventplanner.app.elsewhere import rest_key, walk, walk_key

        breathing, proposals = self.breathing, self.proposals
        self._walked = word

        def work(progress: Progress) -> object:
            found = walk(findings, state, vent, proposals, breathing, progress)
            return (word, found, "" if found is None else rest_key(state, found))

        self._places.ask(f"{word} {walk_key(state, vent, proposals)}", work)

    def _places_came(self, word: str, found: Walk | None, rest: str) -> None:
        if word != self._walked:
            return
        self._walk, self._rest = found, rest
        if found is not None and self._find(word) is not None and self.walk_of(word) is None:
            self.look_for_places(word)  # a proposal got another width meanwhile
            return
        if found is not None:
            self._measure(found)
        steps, self._steps = self._steps, 0
        if self.walk_of(word) is not None and steps:
            self.select(word)
            self.step_place(steps)
        self._tell_changed()

    def _measure(self, found: Walk) -> None:
        """Widths as printed take longer than the search: they follow, and wait while a vent is in hand."""
        findings, state, proposals = self.findings, self.state, self.proposals
        if findings is None or state is None:
            return

        def work(progress: Progress) -> object:
            from ventplanner.app.elsewhere import measured

            def patient(phase: str, share: float) -> None:
                progress(phase, share)
                while self.is_dragging:
                    time.sleep(PAUSE_S)
                    progress(phase, share)

            return found, measured(findings, state, found, proposals, patient)

        self._measuring.ask(str(id(found)), work)

    def _widths_came(self, before: Walk, after: Walk) -> None:
        """Put them into the list they were measured for, if it is still the one."""
        if self._walk is not None and self._walk.found is before.found:
            self._walk = replace(self._walk, found=after.found)
            self._tell_changed()

    def take_place(self, word: str, at: int) -> None:
        """Put a vent to a place of its walk, by its number; a proposal is accepted there. One step of undo, however far
        the walk goes at one stretch."""
        now = self.walk_of(word)
        if now is None or at == now.at or not 0 <= at < len(now.places):
            return
        from ventplanner.app.elsewhere import put

        def edit(state: AppState) -> Edit:
            edit, self._walk = put(state, now, at, self._still_proposed(word))
            self._walked = f"vent {self._walk.vent.id}"
            return edit

        self._edit(edit, stepping=True)
        self.select(self._walked)

    def _end(self) -> None:
        """Nothing of this part is looked for any more."""
        self._places.stop()
        self._measuring.stop()
        self._asking.stop()
        self._walk, self._walked, self._steps, self._why_not = None, "", 0, ""
        super()._end()

    def _go(self, history: History[AppState], *, journal: bool = True) -> None:
        self._why_not = ""
        super()._go(history, journal=journal)

    def why_not(self, point: FloatArray, normal: FloatArray) -> None:
        """Say of a point of the skin, (3,) build point and outward normal, why no vent fits there or what it costs: the
        selected one, else one more."""
        state, findings = self.state, self.findings
        if state is None or findings is None or self.stale:
            return
        from ventplanner.app.elsewhere import why_not

        origin, axis, width = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), state.rules.diameter_mm
        vent = self._find(self.selected) or Vent("", "", "", "vent", origin, origin, axis, width, 0.0, 0.0, 0.0)
        others = tuple(v for v in state.plan.vents if v.id != vent.id)
        point, normal = np.array(point, dtype=np.float64), np.array(normal, dtype=np.float64)

        def work(_progress: Progress) -> object:
            return why_not(findings, state, vent, point, normal, others)

        self._asking.ask(f"{point.tolist()} {self._wish_key()} {self.selected}", work)
