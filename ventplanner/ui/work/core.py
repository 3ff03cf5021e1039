"""The core of a session: the history of the user's wishes, what is known about the present one, the selection."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer

from ventplanner.app.edits import Edit
from ventplanner.app.history import History
from ventplanner.app.results import Results
from ventplanner.app.state import AppState, memory_of, wish_key
from ventplanner.app.warming import FIRST_START
from ventplanner.plan.model import Vent
from ventplanner.profile import Profile
from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.log import log
from ventplanner.ui.work.analyst import Analyse, Analysed, Analyst
from ventplanner.ui.work.files import Opened
from ventplanner.ui.work.jobs import ANALYSIS, PRINTED, PROPOSALS, SIZES, Jobs
from ventplanner.ui.work.known import Known
from ventplanner.ui.work.pool import Pool
from ventplanner.ui.work.showing import Shown

if TYPE_CHECKING:
    from ventplanner.ui.picture import Picture

READY_STEP_S = 0.1

CALM_MS = 200
"""While a vent is dragged, all but the pictures follows so often: to lay out a card takes as long as a step."""


class Core(Known):
    """History, results, selection and journal of the part at hand. Lives in the window's thread."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent)
        self._history: History[AppState] | None = None
        self._path, self._plan_path = "", ""
        self._kept_key, self._selected = "", ""
        self._opened_count = self._moves = 0
        self._named_anew: dict[str, str] = {}  # wish keys before a plan was looked up, and after
        self._wish: tuple[AppState | None, str] = (None, "")
        self._bare: Picture | None = None
        self._offered: tuple[object, object, tuple[Vent, ...]] = (None, None, ())
        self._usual_profile = Profile()
        self._held, self._held_back = 0, False
        self._calm = QTimer(self)
        self._calm.setSingleShot(True)
        self._calm.setInterval(CALM_MS)
        self._calm.timeout.connect(self.changed)
        self._journal = Journal() if journal is None else journal
        self._results, self._shown, self._jobs = Results(), Shown(), Jobs()
        self._pool = Pool(self, workers)
        self._ready = threading.Event()  # cleared while a worker compiles the inner loops
        self._ready.set()
        self._analyst = Analyst(self._results, self._pool, self._when_ready(analyse), self)
        self._analyst.findings_changed.connect(self._findings_came)
        self._analyst.proposals_changed.connect(self._proposals_came)
        self._analyst.preview_changed.connect(self._preview_came)
        self._analyst.drilled_changed.connect(self._preview_came)
        self._analyst.failed.connect(self._fail)
        self._analyst.breathing.changed.connect(self._flow_came)
        self._analyst.sizing.changed.connect(self._proposals_came)
        self._analyst.looking.changed.connect(self._tell_changed)
        self._analyst.printing.changed.connect(self._printed_came)
        self._analyst.printed_flow.changed.connect(self._printed_came)
        for lane, name in (
            (self._analyst.analysis, ANALYSIS),
            (self._analyst.proposing, PROPOSALS),
            (self._analyst.printing.lane, PRINTED),
            (self._analyst.printing.sizing, SIZES),
        ):
            lane.busy_changed.connect(lambda lane=lane, name=name: self._set_busy(name, lane.is_busy, cancellable=True))
            lane.progressed.connect(lambda step, share, name=name: self._tell(name, step, share))

    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """Cavities that are, or were before, left as they are, each with its note; the latest first."""
        history = self._history
        states = () if history is None else (history.state, *(entry.state for entry in reversed(history.past)))
        return tuple(pair for state in states for pair in state.plan.left_alone)

    @property
    def is_unsaved(self) -> bool:
        """Whether closing would lose work: it differs from what was last opened or saved as a plan."""
        return self._differs

    @property
    def _differs(self) -> bool:
        return self._history is not None and self._wish_key() != self._kept_key

    def set_usual_profile(self, profile: Profile) -> None:
        """The printer and resin of a part that is opened from now on, unless its plan keeps another."""
        self._usual_profile = profile
        if self._history is None:
            self._analyst.use(profile)
            self._tell_changed()

    def select(self, what: str) -> None:
        """Select a cavity, cup, vent or proposal; "" or what is not there selects nothing."""
        what = what if self._is_there(what) else ""
        if what != self._selected:
            self._selected = what
            self.selection_changed.emit()
            self._tell_changed()

    def _begin(self, opened: Opened) -> None:
        """Work on another part from now on."""
        self._end()
        self._opened_count += 1
        self._path, self._plan_path = opened.path, opened.plan_path
        self._bare = opened.bare
        state = replace(opened.state, profile=opened.state.profile or self._usual_profile)
        self._history = History(state, opened.name, weigh=memory_of)
        self._kept_key = "" if opened.is_recovered else self._wish_key()
        log.info("Opened a part of %d triangles", len(state.solid.faces))
        self._analyst.follow(state)
        self._write_journal()
        self.part_changed.emit()
        self._tell_all()

    def _end(self) -> None:
        """Work on no part."""
        self._history = None
        self._path = self._plan_path = self._kept_key = self._selected = ""
        self._bare = None
        self._named_anew.clear()
        self._offered = (None, None, ())
        self._journal.forget()
        self._analyst.follow(None)
        self._analyst.use(self._usual_profile)
        self._shown.forget()
        self._results.clear()

    def _did(self, edit: Edit) -> None:
        """Take an edit into the history."""
        if self._history is not None:
            self._go(self._history.did(*edit))

    def _go(self, history: History[AppState], *, journal: bool = True) -> None:
        """Move to another place of the history, and follow it."""
        before, self._history = self._history, history
        if before is not None and history.state is before.state:
            self._tell_changed()  # names of the history may differ
            return
        self._moves += 1
        with self._told_once():
            self._keep_selection(for_good=False)  # what follows tells of the new state: a proposal is a vent by then
            self._analyst.follow(history.state)
            self._look_up()
            self._keep_selection()
            if journal:
                self._write_journal()
            if before is not None and before.state.solid is not history.state.solid:
                self.part_changed.emit()
            self.plan_changed.emit()
            self._tell_changed()

    def _look_up(self) -> None:
        """A plan that was made for another pose or other options: in which cavities are its vents now?"""
        findings, history = self.findings, self._history
        if findings is None or history is None or self.stale or history.state.plan_is_current:
            return
        from ventplanner.app.lookup import look_up

        unsaved, before = self._differs, self._wish_key()
        self._history = history.amended(look_up(history.state, findings))
        self._named_anew[before] = self._wish_key()  # a plan that is being saved is the same under its new names
        if not unsaved:
            self._kept_key = self._wish_key()
        self._analyst.follow(self._history.state)

    @contextmanager
    def _told_once(self) -> Iterator[None]:
        """What changes meanwhile is told by one `changed` at the end."""
        self._held += 1
        try:
            yield
        finally:
            self._held -= 1
            if not self._held and self._held_back:
                self._held_back = False
                self._tell_changed()

    def _tell_changed(self) -> None:
        if self._held:
            self._held_back = True
        elif self.is_dragging:
            self.stepped.emit()
            if not self._calm.isActive():
                self._calm.start()
        else:
            self._calm.stop()
            self.changed.emit()

    def _findings_came(self) -> None:
        self._look_up()
        self._keep_selection()
        self.findings_changed.emit()
        self.plan_changed.emit()
        self._tell_changed()

    def _proposals_came(self) -> None:
        self._keep_selection()
        self.plan_changed.emit()
        self._tell_changed()

    def _preview_came(self) -> None:
        self.preview_changed.emit()
        self._tell_changed()

    def _flow_came(self) -> None:
        self.flow_changed.emit()
        self._tell_changed()

    def _printed_came(self) -> None:
        self.printed_changed.emit()
        self._tell_changed()

    def _is_there(self, what: str) -> bool:
        kind, _, name = what.partition(" ")
        if kind == "vent":
            return any(v.id == name for v in self.plan.vents)
        if kind == "proposal":
            return any(v.id == name for v in self.proposals)
        if kind in ("passage", "joining"):
            return any(p.id == name for p in (self.plan.passages if kind == "passage" else self.joins))
        cavities = () if self.findings is None else self.findings.cavities
        if kind == "cavity":
            return any(c.id == name for c in cavities)
        return kind == "cup" and any(cup.id == name for c in cavities for cup in c.cups)

    def _keep_selection(self, for_good: bool = True) -> None:
        """What is gone is not selected: an accepted proposal is a vent now, and a removed vent a proposal again.

        for_good: nothing more will come; else what is gone stays selected as long as nothing took its place.
        """
        kind, _, name = self._selected.partition(" ")
        if not self._selected or self._is_there(self._selected):
            return
        if self.stale and kind not in ("vent", "passage"):
            return  # proposals and cavities come with the findings
        other = {"vent": "proposal", "proposal": "vent", "passage": "joining", "joining": "passage"}.get(kind, "")
        other = f"{other} {name}"
        if not for_good and not self._is_there(other):
            return
        self._selected = other if self._is_there(other) else ""
        self.selection_changed.emit()

    def _wish_key(self) -> str:
        state = self.state
        if state is None:
            return ""
        if self._wish[0] is not state:
            self._wish = (state, wish_key(state))
        return self._wish[1]

    def _when_ready(self, analyse: Analyse) -> Analyse:
        """The analysis, after the inner loops have been compiled."""

        def analyse_then(state: AppState, progress: Progress) -> Analysed:
            while not self._ready.wait(READY_STEP_S):
                progress(FIRST_START, -1.0)
            return analyse(state, progress)

        return analyse_then

    def _work_key(self, state: AppState) -> str:
        """Key of a state of the part at hand, which the same state of a part that is opened later does not have."""
        return f"{self._opened_count} {wish_key(state)}"

    def _is_this_part(self, work_key: str) -> bool:
        """Whether a key is of the part at hand: another one may have been opened since."""
        return self.state is not None and work_key.partition(" ")[0] == str(self._opened_count)

    def _keep_as(self, work_key: str) -> None:
        """The work of this key can no longer be lost."""
        if self._is_this_part(work_key):
            key = work_key.partition(" ")[2]
            self._kept_key = self._named_anew.get(key, key)
            self._write_journal()
            self._tell_changed()

    def _write_journal(self) -> None:
        state = self.state
        if state is None or not self._differs:
            self._journal.clear()
        else:
            self._journal.write(state, self._path, state.unit, self._plan_path)

    def _set_busy(self, name: str, busy: bool, cancellable: bool = False) -> None:
        if self._jobs.set_busy(name, busy, cancellable):
            self.job_changed.emit()
            self._tell_changed()

    def _tell(self, name: str, step: str, share: float) -> None:
        self._jobs.tell(name, step, share)
        self.job_changed.emit()

    def _fail(self, error: object, what: str) -> None:
        log.warning("%s: %s", what, error, exc_info=error if isinstance(error, BaseException) else None)
        self.failed.emit(error, what)
        self._tell_changed()

    def _tell_all(self) -> None:
        for signal in (self.findings_changed, self.plan_changed, self.preview_changed, self.selection_changed):
            signal.emit()
        self._tell_changed()
