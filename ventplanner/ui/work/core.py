"""The core of a session: the history of the user's wishes, what is known about the present one, the selection."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from ventplanner.app.edits import Edit
from ventplanner.app.history import History
from ventplanner.app.results import Results
from ventplanner.app.state import AppState, memory_of, numbered_apart, open_proposals, wish_key
from ventplanner.app.warming import FIRST_START
from ventplanner.plan.model import NoVent, Plan, Vent
from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.log import log
from ventplanner.ui.work.analyst import Analyse, Analysed, Analyst, Interrupted
from ventplanner.ui.work.files import Opened
from ventplanner.ui.work.jobs import ANALYSIS, PROPOSALS, Job, Jobs
from ventplanner.ui.work.pool import Pool
from ventplanner.ui.work.showing import Shown

if TYPE_CHECKING:
    from ventplanner.analysis.cups import Cups
    from ventplanner.analysis.findings import Findings
    from ventplanner.app.left import Left
    from ventplanner.app.outlook import Outlook
    from ventplanner.app.verdict import Verdict
    from ventplanner.ui.picture import Picture

READY_STEP_S = 0.1


class Core(QObject):
    """History, results, selection and journal of the part at hand. Lives in the window's thread.

    Signals without arguments say that something may have changed; receivers read the properties.
    """

    changed = Signal()
    part_changed = Signal()
    findings_changed = Signal()
    plan_changed = Signal()
    preview_changed = Signal()
    selection_changed = Signal()
    job_changed = Signal()
    failed = Signal(object, str)

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
        for lane, name in ((self._analyst.analysis, ANALYSIS), (self._analyst.proposing, PROPOSALS)):
            lane.busy_changed.connect(lambda lane=lane, name=name: self._set_busy(name, lane.is_busy, cancellable=True))
            lane.progressed.connect(lambda step, share, name=name: self._tell(name, step, share))

    @property
    def state(self) -> AppState | None:
        """What the user wishes; None without a part."""
        return None if self._history is None else self._history.state

    @property
    def findings(self) -> Findings | None:
        """What was found: in the present pose, or the last known ones while `stale`; None before the first."""
        return self._analyst.findings

    @property
    def stale(self) -> bool:
        """Whether the findings are those of an earlier pose, options or part, and new ones are on the way."""
        return self._analyst.is_stale

    @property
    def plan(self) -> Plan:
        """The accepted vents, and the cavities left as they are."""
        return Plan() if self._history is None else self._history.state.plan

    @property
    def proposals(self) -> tuple[Vent, ...]:
        """Proposals that are still open: neither accepted nor set aside, nor in a cavity that is left as it is."""
        state, proposed = self.state, self._analyst.proposals
        if state is None or proposed is None or self.stale:
            return ()
        if self._offered[0] is not state or self._offered[1] is not proposed:
            alone = {cavity for cavity, _ in state.plan.left_alone}
            # Numbered before those of cavities left alone are taken out: the others keep their numbers.
            vents = numbered_apart(open_proposals(state, proposed.vents), (*state.plan.vents, *state.set_aside))
            vents = tuple(v for v in vents if v.cavity not in alone)
            # The same object as before where nothing changed: others tell by that.
            same = vents == self._offered[2]
            self._offered = (state, proposed, self._offered[2] if same else vents)
        return self._offered[2]

    @property
    def set_aside(self) -> tuple[Vent, ...]:
        """Proposals that the user does not want."""
        return () if self._history is None else self._history.state.set_aside

    @property
    def missing(self) -> tuple[NoVent, ...]:
        """Cups for which no vent was found, and why."""
        proposed = self._analyst.proposals
        return () if proposed is None or self.stale else proposed.missing

    @property
    def preview(self) -> Cups | None:
        """The cups with the accepted vents; for an instant after an edit still those before it."""
        return self._analyst.preview

    @property
    def is_known(self) -> bool:
        """Whether `left` and the states in the picture are those of the present plan, and not of one before."""
        return self._analyst.is_preview_current

    @property
    def left_alone_ids(self) -> tuple[str, ...]:
        """Cavities of the present findings that are left as they are, in their order."""
        alone = {cavity for cavity, _ in self.plan.left_alone}
        return () if self.findings is None else tuple(c.id for c in self.findings.cavities if c.id in alone)

    @property
    def outlook(self) -> Outlook | None:
        """The preview told by cavity."""
        return self._shown.outlook(self._analyst)

    @property
    def left(self) -> tuple[Left, ...]:
        """What is left to do; empty when all is done."""
        state = self.state
        return () if state is None else self._shown.left(self._analyst, state, self.proposals)

    @property
    def verdict(self) -> Verdict | None:
        """The whole part in one sentence, with the accepted vents; None as long as nothing is known."""
        state = self.state
        return None if state is None else self._shown.verdict(self._analyst, state)

    @property
    def interrupted(self) -> Interrupted | None:
        """What is not known and not being worked out, because it was cancelled or failed; None if nothing."""
        return self._analyst.interrupted

    @property
    def picture(self) -> Picture | None:
        """What the view and the chart show; the bare part before the first findings."""
        state = self.state
        if state is None:
            return None
        return self._shown.picture(self._analyst, state, self.proposals, self._selected, self._bare)

    @property
    def selected(self) -> str:
        """ "" | "cavity A" | "cup A1" | "vent 3" | "proposal 3"."""
        return self._selected

    @property
    def job(self) -> Job | None:
        """The job to show; None if nothing runs that takes long."""
        return self._jobs.foremost

    @property
    def path(self) -> str:
        """The file that was opened: a part or a plan."""
        return self._path

    @property
    def plan_path(self) -> str:
        """The plan file that the work was saved in; "" if none."""
        return self._plan_path

    @property
    def is_unsaved(self) -> bool:
        """Whether closing would lose work: it differs from what was last opened or saved as a plan."""
        return self._differs

    @property
    def _differs(self) -> bool:
        return self._history is not None and self._wish_key() != self._kept_key

    @property
    def history(self) -> History[AppState] | None:
        """The history of the user's wishes; None without a part."""
        return self._history

    @property
    def undo_name(self) -> str | None:
        """Name of the edit that undo would take back."""
        return None if self._history is None else self._history.undo_name

    @property
    def redo_name(self) -> str | None:
        """Name of the edit that redo would bring back."""
        return None if self._history is None else self._history.redo_name

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all states, oldest first; the first one has the name of the file."""
        return () if self._history is None else self._history.names

    @property
    def index(self) -> int:
        """Place of the present state in `names`."""
        return 0 if self._history is None else self._history.index

    @property
    def is_settled(self) -> bool:
        """Whether all that follows from the user's wishes is known (the drilled picture aside)."""
        return self._analyst.is_settled

    def select(self, what: str) -> None:
        """Select a cavity, cup, vent or proposal; "" or what is not there selects nothing."""
        what = what if self._is_there(what) else ""
        if what != self._selected:
            self._selected = what
            self.selection_changed.emit()
            self.changed.emit()

    def _begin(self, opened: Opened) -> None:
        """Work on another part from now on."""
        self._end()
        self._opened_count += 1
        self._path, self._plan_path = opened.path, opened.plan_path
        self._bare = opened.bare
        self._history = History(opened.state, opened.name, weigh=memory_of)
        self._kept_key = "" if opened.is_recovered else self._wish_key()
        log.info("Opened a part of %d triangles", len(opened.state.solid.faces))
        self._analyst.follow(opened.state)
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
        self._journal.clear()
        self._analyst.follow(None)
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
            self.changed.emit()  # names of the history may differ
            return
        self._moves += 1
        self._analyst.follow(history.state)
        self._look_up()
        self._keep_selection()
        if journal:
            self._write_journal()
        if before is not None and before.state.solid is not history.state.solid:
            self.part_changed.emit()
        self.plan_changed.emit()
        self.changed.emit()

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

    def _findings_came(self) -> None:
        self._look_up()
        self._keep_selection()
        self.findings_changed.emit()
        self.plan_changed.emit()
        self.changed.emit()

    def _proposals_came(self) -> None:
        self._keep_selection()
        self.plan_changed.emit()
        self.changed.emit()

    def _preview_came(self) -> None:
        self.preview_changed.emit()
        self.changed.emit()

    def _is_there(self, what: str) -> bool:
        kind, _, name = what.partition(" ")
        if kind == "vent":
            return any(v.id == name for v in self.plan.vents)
        if kind == "proposal":
            return any(v.id == name for v in self.proposals)
        cavities = () if self.findings is None else self.findings.cavities
        if kind == "cavity":
            return any(c.id == name for c in cavities)
        return kind == "cup" and any(cup.id == name for c in cavities for cup in c.cups)

    def _keep_selection(self) -> None:
        """What is gone is not selected: an accepted proposal is a vent now, and a removed vent a proposal again."""
        kind, _, name = self._selected.partition(" ")
        if not self._selected or self._is_there(self._selected):
            return
        if self.stale and kind != "vent":
            return  # proposals and cavities come with the findings
        other = {"vent": f"proposal {name}", "proposal": f"vent {name}"}.get(kind, "")
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
            self.changed.emit()

    def _write_journal(self) -> None:
        state = self.state
        if state is None or not self._differs:
            self._journal.clear()
        else:
            self._journal.write(state, self._path, state.unit, self._plan_path)

    def _set_busy(self, name: str, busy: bool, cancellable: bool = False) -> None:
        if self._jobs.set_busy(name, busy, cancellable):
            self.job_changed.emit()
            self.changed.emit()

    def _tell(self, name: str, step: str, share: float) -> None:
        self._jobs.tell(name, step, share)
        self.job_changed.emit()

    def _fail(self, error: object, what: str) -> None:
        log.warning("%s: %s", what, error, exc_info=error if isinstance(error, BaseException) else None)
        self.failed.emit(error, what)
        self.changed.emit()

    def _tell_all(self) -> None:
        for signal in (self.findings_changed, self.plan_changed, self.preview_changed, self.selection_changed):
            signal.emit()
        self.changed.emit()
