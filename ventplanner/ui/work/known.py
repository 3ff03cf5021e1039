"""What a session knows about its part: read-only views of the history and of all that follows from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from ventplanner.app.history import History
from ventplanner.app.joining import offered_passages
from ventplanner.app.state import AppState, offered
from ventplanner.plan.model import NoVent, Passage, Plan, Vent
from ventplanner.profile import Profile
from ventplanner.ui.work.analyst import Analyst, Interrupted
from ventplanner.ui.work.jobs import Job, Jobs
from ventplanner.ui.work.showing import Shown

if TYPE_CHECKING:
    from ventplanner.analysis.cups import Cups
    from ventplanner.analysis.findings import Findings
    from ventplanner.analysis.inside import Inside
    from ventplanner.app.as_printed import BreathingPrinted
    from ventplanner.app.breathing import Breathing
    from ventplanner.app.left import Left
    from ventplanner.app.outlook import Outlook
    from ventplanner.app.printing import Printed, WayOut
    from ventplanner.app.sizing import SizedAll
    from ventplanner.app.verdict import Verdict
    from ventplanner.flow.sizing import Size
    from ventplanner.ui.picture import Picture, ShownKept, ShownSections


class Known(QObject):
    """Signals without arguments say that something may have changed; receivers read the properties.

    stepped: a step of a drag; what follows the pointer follows it at once. All the rest hears of it by `changed`, which
    tells of several steps together.
    """

    changed = Signal()
    stepped = Signal()
    part_changed = Signal()
    findings_changed = Signal()
    plan_changed = Signal()
    preview_changed = Signal()
    flow_changed = Signal()
    printed_changed = Signal()
    selection_changed = Signal()
    job_changed = Signal()
    failed = Signal(object, str)
    said = Signal(str)

    _analyst: Analyst
    _history: History[AppState] | None
    _shown: Shown
    _jobs: Jobs
    _bare: Picture | None
    _offered: tuple[object, object, tuple[Vent, ...]]
    _path: str
    _plan_path: str
    _selected: str

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
        widths = self._analyst.sizing.found
        if self._offered[0] is not state or self._offered[1] != (proposed, widths):
            vents = self._analyst.sizing.shown(state, offered(state, proposed.vents))
            # The same object as before where nothing changed: others tell by that.
            same = vents == self._offered[2]
            self._offered = (state, (proposed, widths), self._offered[2] if same else vents)
        return self._offered[2]

    @property
    def joins(self) -> tuple[Passage, ...]:
        """Passages inside the part that are offered: found, and neither accepted nor set aside."""
        state, proposed = self.state, self._analyst.proposals
        return () if state is None or proposed is None or self.stale else offered_passages(state, proposed)

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
        """The cups with the accepted vents, and with a passage in hand; for an instant after an edit still those
        before it."""
        return self._analyst.shown_preview

    @property
    def is_known(self) -> bool:
        """Whether `left` and the states in the picture are those of the present plan, and not of one before."""
        return self._analyst.is_preview_current

    @property
    def breathing(self) -> Breathing | None:
        """The flow without and with the accepted vents, of the last plan that was solved; None before the first."""
        return self._analyst.breathing.found

    @property
    def is_flow_known(self) -> bool:
        """Whether `breathing` is of the present plan and profile."""
        return not self.stale and self._analyst.breathing.is_current

    @property
    def is_flow_coming(self) -> bool:
        """Whether an answer about the flow is on the way."""
        return self._analyst.is_flow_coming

    @property
    def is_sizing(self) -> bool:
        """Whether the widths that the limits ask of the open proposals are on their way."""
        by_need = self._history is not None and self._history.state.rules.size == "need"
        return by_need and (self.is_flow_coming or self._analyst.sizing.lane.is_busy)

    def size_of(self, proposal_id: str) -> Size | None:
        """What the limits ask of a proposal, beside the accepted vents; None as long as that is not known."""
        return None if self.stale else self._analyst.sizing.size_of(proposal_id)

    @property
    def widths_by_need(self) -> SizedAll | None:
        """The accepted vents and passages, each as wide as the limits ask, if that is known and any would change or
        cannot; None otherwise."""
        sizing, plan = self._analyst.sizing, self.plan
        if self.stale or sizing.found is None or not sizing.is_current:
            return None
        found = sizing.found
        would_change = (found.accepted, found.passages) != (plan.vents, plan.passages)
        return found if would_change or found.stay else None

    @property
    def remarks(self) -> tuple[Left, ...]:
        """What is worth a look and hinders nothing: vents too small for the limits, then what a look inside found.
        Empty until that is known."""
        small = self._shown.remarks(self.breathing, self.plan) if self.is_flow_known else ()
        return (*small, *self._shown.worth_a_look(self.inside))

    @property
    def at_first(self) -> str:
        """Who sucks beyond the limit until its first hole is whole: a clause; "" for nobody, and until it is known."""
        return self._shown.at_first(self.breathing, self.plan) if self.is_flow_known else ""

    @property
    def inside(self) -> Inside | None:
        """What a look inside found in the part as it came; None as long as that is not known."""
        found = self._analyst.looking.found
        return None if self.stale or found is None else found.inside

    @property
    def profile(self) -> Profile:
        """The printer and resin that the flow is computed for."""
        return self._analyst.breathing.profile

    @property
    def printed(self) -> Printed | None:
        """The part as printed with the present plan and profile; None if that is not known (`check_printed`)."""
        return self._analyst.printing.found if self.is_printed_known else None

    @property
    def breathing_printed(self) -> BreathingPrinted | None:
        """How the present plan breathes as printed with the present profile; None if that is not known."""
        flow = self._analyst.printed_flow
        return flow.found if not self.stale and flow.is_current else None

    @property
    def is_dragging(self) -> bool:
        """Whether a vent is in hand: each step is replaced by the next one."""
        return False

    @property
    def is_printed_known(self) -> bool:
        """Whether it is known how the present plan prints with the present profile."""
        return not self.stale and self._analyst.printing.is_current

    @property
    def is_printed_awaited(self) -> bool:
        """Whether that is being computed."""
        return not self.stale and self._analyst.printing.is_busy

    def way_out(self, vent: Vent) -> WayOut | None:
        """What makes a vent that prints closed print open; None as long as that is not known."""
        return self._analyst.printing.way_out(vent) if self.is_printed_known else None

    @property
    def is_way_out_awaited(self) -> bool:
        """Whether such a way out is being looked for."""
        return self._analyst.printing.is_sizing

    def check_printed(self) -> None:
        """Compute how the present plan prints; `printed_changed` tells when that is known."""
        if not self.stale:
            self._analyst.printing.check()

    def watch_printed(self, who: str, on: bool) -> None:
        """Somebody (by name) looks at the part as printed, and wants it for each plan, or no longer."""
        self._analyst.printing.watch(who, on)

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
        closed = () if self.stale else self._analyst.looking.closed
        return () if state is None else (*self._shown.left(self._analyst, state, self.proposals, self.joins), *closed)

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
        parts = (self.proposals, self._selected, self._bare, self.joins, self.kept_shown, self.sections_shown)
        return self._shown.picture(self._analyst, state, *parts)

    @property
    def sections_shown(self) -> ShownSections | None:
        """Material in each layer before and after it was hollowed; heirs know."""
        return None

    @property
    def kept_shown(self) -> ShownKept | None:
        """The place of a vent that the chart compares the present one with."""
        return None

    @property
    def selected(self) -> str:
        """ "" | "cavity A" | "cup A1" | "vent 3" | "proposal 3" | "passage P1" | "joining P1"."""
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
