"""A session's passage in hand: dragged or laid by the pointer, fitted and measured at each step, one edit in all."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, Signal

from ventplanner.app import joining
from ventplanner.plan.model import Passage, Plan
from ventplanner.plan.refusal import place_of_refusal
from ventplanner.ui.journal import Journal
from ventplanner.ui.units import sentence
from ventplanner.ui.work.analyst import Analyse, preview_of
from ventplanner.ui.work.joining import Joining
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.analysis.cups import Cups
    from ventplanner.app.edits import Edit
    from ventplanner.geometry.solid import FloatArray


@dataclass(frozen=True, eq=False)
class Trial:
    """A passage in hand. passage: as it fitted last, None if it never has. refusal: why it does not fit where the
    pointer is, "" if it does. stops: (2 or 3, 3) build points of what was tried last. is_new: it was not in the plan
    before. beside: the plan it was tried in. cups: how the part prints with it as it fitted last."""

    name: str
    passage: Passage | None
    refusal: str
    stops: FloatArray
    is_new: bool
    beside: Plan
    cups: Cups | None = None


class Laying(Joining):
    """Steps are tried in a thread, the newest first; nothing is edited before the passage is let go."""

    passage_tried = Signal()

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._trial: Trial | None = None
        self._letting_go = False
        self._steps_tried = 0
        self._trying = Lane("passage in hand", self)
        self._trying.done.connect(lambda _, found: self._tried(*found))
        self._trying.failed.connect(lambda _, error: self._not_tried(error))

    @property
    def passage_in_hand(self) -> Trial | None:
        """The passage that is dragged or laid; None if none is."""
        return self._trial

    @property
    def is_dragging(self) -> bool:
        """Whether a vent or a passage is in hand."""
        return super().is_dragging or self._trial is not None

    @property
    def is_settled(self) -> bool:
        """Whether all that follows from the user's wishes is known, and no passage is being fitted."""
        return super().is_settled and not self._trying.is_busy

    @property
    def refused_at(self) -> FloatArray | None:
        """(3,) build point that forbids what is dragged, laid or typed now; None where nothing is refused."""
        told, trial = self.passage_refusal, self._trial
        typed = told[2] if told is not None and self.selected == f"passage {told[0]}" else ""
        why = self.drag_refusal or (trial.refusal if trial is not None else typed)
        return place_of_refusal(why)

    def drag_passage(self, name: str, stop: int, point: FloatArray) -> None:
        """Try an accepted passage with one of its stops (`dragging_passages.WHOLE`: its middle) at a (3,) build
        point."""
        passage, findings = joining.named(self.plan.passages, name), self.findings
        if passage is not None and findings is not None:
            from ventplanner.app.dragging_passages import stops_with

            self._try(passage, stops_with(findings, passage, stop, point), is_new=False)

    def lay_passage(self, start: FloatArray, end: FloatArray) -> None:
        """Try a new passage between two (3,) build points in hollows, as wide as vents are proposed."""
        state = self.state
        if state is not None:
            from ventplanner.app.dragging_passages import blank

            name = self._trial.name if self._trial is not None else joining.free_name(state, self.joins)
            self._try(blank(name, state.rules.diameter_mm), np.array([start, end], dtype=np.float64), is_new=True)

    def let_passage_go(self) -> None:
        """Take the passage in hand into the plan as it fitted last, once its last step is known."""
        self._letting_go = True
        if not self._trying.is_busy:
            self._end_trial()

    def drop_passage(self) -> None:
        """Give the passage in hand up: nothing has changed."""
        self._trying.stop()
        had, self._trial, self._letting_go = self._trial, None, False
        if had is not None:
            self._analyst.show_tried(None)
        self._tell_tried()

    def _try(self, passage: Passage, stops: FloatArray, *, is_new: bool) -> None:
        state, findings = self.state, self.findings
        if state is None or findings is None or self.stale:
            return
        if self._trial is None:
            self._trial = Trial(passage.id, None if is_new else passage, "", stops, is_new, state.plan)
        self._letting_go = False
        self._steps_tried += 1

        def work(_: object) -> tuple[FloatArray, Passage | str, Cups | None]:
            from ventplanner.app.dragging_passages import laid

            found = laid(findings.keeping_clear(state.keep_clear), state.plan, passage, stops, state.rules)
            if isinstance(found, str):
                return stops, found, None
            return stops, found, preview_of(findings, state.plan.with_passage(found).drills)

        self._trying.ask(str(self._steps_tried), work)

    def _tried(self, stops: FloatArray, found: Passage | str, cups: Cups | None) -> None:
        trial = self._trial
        if trial is None:
            return
        if isinstance(found, Passage):
            self._trial = replace(trial, passage=found, refusal="", stops=stops, cups=cups)
        else:
            self._trial = replace(trial, refusal=found, stops=stops)
        self._analyst.show_tried(self._trial.cups)
        self._tell_tried()
        if self._letting_go and not self._trying.is_busy:
            self._end_trial()

    def _not_tried(self, error: object) -> None:
        self.drop_passage()
        self._fail(error, "The passage could not be placed")

    def _end_trial(self) -> None:
        trial, self._trial, self._letting_go = self._trial, None, False
        if trial is None:
            return
        if trial.refusal:
            kept = f"Passage {trial.name} is where it last fitted" if trial.passage else "No passage fits there"
            where = "; where it was let go, " if trial.passage else ": "
            self.said.emit(f"{kept}{where}{sentence(trial.refusal)}.")
        found, known = trial.passage, joining.named(self.plan.passages, trial.name)
        if found is not None and trial.is_new:
            self._edit(lambda state: self._foreseen(joining.add_passage(state, found), trial))
            self.select(f"passage {found.id}")
        elif found is not None and known is not None and known != found:
            self._edit(lambda state: self._foreseen(joining.move_passage(state, found), trial))
        self._analyst.show_tried(None)
        self._tell_tried()

    def _foreseen(self, edit: Edit, trial: Trial) -> Edit:
        """What the part does with the passage in hand is known already, unless other vents have come or gone."""
        if trial.cups is not None and self.plan is trial.beside:
            self._analyst.know(edit.state, trial.cups, passing=False)
        return edit

    def _tell_tried(self) -> None:
        """The view, the chart and the verdict at once, the panels with the next news."""
        self.passage_tried.emit()
        self._tell_changed()

    def _end(self) -> None:
        self._trying.stop()
        self._trial, self._letting_go = None, False
        super()._end()
