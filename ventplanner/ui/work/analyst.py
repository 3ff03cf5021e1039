"""Keeps what follows from the user's wishes up to date: findings, proposals, preview and the drilled mesh.

Each result is kept under the key of what it was computed from. An answer that is no longer wanted goes into that
store and is not shown; going back to an earlier state finds its results there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QObject, Signal

from ventplanner.app.results import Results
from ventplanner.app.state import AppState, analysis_key, plan_key, proposals_key
from ventplanner.errors import MeshError
from ventplanner.profile import Profile
from ventplanner.progress import Progress
from ventplanner.ui.picture import Mesh
from ventplanner.ui.work.breathing import Breathing
from ventplanner.ui.work.cutting import Cutting
from ventplanner.ui.work.lanes import Lane
from ventplanner.ui.work.looking import Looking
from ventplanner.ui.work.pool import Pool
from ventplanner.ui.work.printed_flow import PrintedFlow
from ventplanner.ui.work.printing import Printing
from ventplanner.ui.work.sizing import Sizing

if TYPE_CHECKING:
    from ventplanner.analysis.cups import Cups
    from ventplanner.analysis.findings import Findings
    from ventplanner.plan.model import Plan, Vent
    from ventplanner.ui.picturing import Backdrop

Analyse = Callable[[AppState, Progress], "Analysed"]


@dataclass(frozen=True)
class Interrupted:
    """What is not known, because the user cancelled it or because it failed: "analysis" or "proposals"."""

    what: Literal["analysis", "proposals"]
    cancelled: bool


@dataclass(frozen=True, eq=False)
class Analysed:
    """Findings, and what is drawn of them."""

    findings: Findings
    backdrop: Backdrop


def analyse_state(state: AppState, progress: Progress) -> Analysed:
    """The analysis of a state, with all that later steps would otherwise have to wait for."""
    from ventplanner.app.warming import warm

    warm(progress)
    from ventplanner.analysis.findings import analyse
    from ventplanner.ui.picturing import backdrop

    findings = analyse(state.solid, state.pose, state.options, progress=progress).with_supports(state.supports)
    if findings.volume <= 0.0:
        raise MeshError("The skins of the part enclose no material.", "Export it as a closed body with a volume.")
    drawn = backdrop(findings)
    # Rays and places are asked for while the user drags: their indexes are made here.
    _ = findings.scene.open_tree, findings.part.digest
    return Analysed(findings, drawn)


def _propose(findings: Findings, state: AppState, progress: Progress) -> Plan:
    from ventplanner.plan.placement import propose

    return propose(findings, state.rules, keep_clear=state.keep_clear, progress=progress)


def preview_of(findings: Findings, vents: tuple[Vent, ...]) -> Cups:
    """The cups with these vents, without a boolean."""
    from ventplanner.plan.fitting import tool_of_vent

    return findings.scene.cups(tuple(tool_of_vent(findings, v) for v in vents)) if vents else findings.cups


class Analyst(QObject):
    """Follows a state. `findings` are those of the last analysis that ended, `is_stale` until they are the state's."""

    findings_changed = Signal()
    proposals_changed = Signal()
    preview_changed = Signal()
    drilled_changed = Signal()
    failed = Signal(object, str)

    def __init__(self, results: Results, pool: Pool, analyse: Analyse, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.findings: Findings | None = None
        self.backdrop: Backdrop | None = None
        self.is_stale = False
        self.proposals: Plan | None = None
        self.preview: Cups | None = None
        self._tried: Cups | None = None
        self._state: AppState | None = None
        self._results = results
        self._analyse = analyse
        self.analysis = Lane("analysis", self, impatient=True, keep_late=True)
        self.proposing = Lane("proposals", self, impatient=True, keep_late=True)
        self.previewing = Lane("preview", self, keep_late=True)
        self.lanes = (self.analysis, self.proposing, self.previewing)
        for lane, what in (
            (self.analysis, "The part could not be analysed"),
            (self.proposing, "No vents could be proposed"),
            (self.previewing, "The preview could not be computed"),
        ):
            lane.done.connect(self._keep)
            lane.failed.connect(lambda key, error, what=what: self._fail(key, error, what))
        self.proposing.done.connect(pool.warm)
        self.cutting = Cutting(results, pool, self)
        self.cutting.changed.connect(self.drilled_changed)
        self.cutting.failed.connect(self.failed)
        self.breathing = Breathing(results, self)
        self.breathing.failed.connect(self.failed)
        self.printing = Printing(self)
        self.printing.failed.connect(self.failed)
        self.printed_flow = PrintedFlow(results, self.breathing, self.printing, self)
        self.printed_flow.failed.connect(self.failed)
        self.sizing = Sizing(results, self.breathing, self)
        self.sizing.failed.connect(self.failed)
        self.looking = Looking(results, self)
        self.looking.failed.connect(self.failed)
        self._refused: set[str] = set()
        self._cancelled: set[str] = set()
        self._preview_key = self._passing = ""

    @property
    def drilled(self) -> Mesh | None:
        """The part with the accepted vents (or those that are cut so far), in build axes."""
        return self.cutting.mesh

    @property
    def is_settled(self) -> bool:
        """Whether findings, proposals and preview are those of the state (or failed)."""
        return not any(lane.is_busy for lane in self.lanes)

    @property
    def is_preview_current(self) -> bool:
        """Whether the preview is that of the state: an instant after an edit, or if it failed, it is not."""
        state = self._state
        return state is not None and not self.is_stale and self._preview_key == plan_key(state)

    @property
    def shown_preview(self) -> Cups | None:
        """The preview, or while something is in hand that is in no state yet, that with it."""
        return self.preview if self._tried is None else self._tried

    def show_tried(self, cups: Cups | None) -> None:
        """Show these cups instead of the preview of the state, until None is shown."""
        if cups is not self._tried:
            self._tried = cups
            self.preview_changed.emit()

    @property
    def interrupted(self) -> Interrupted | None:
        """What is not known of the state and is not being worked out; None if nothing."""
        state = self._state
        if state is None:
            return None
        if self.is_stale:
            key = analysis_key(state)
            return Interrupted("analysis", key in self._cancelled) if self._is_given_up(key) else None
        key = proposals_key(state)
        given_up = self.proposals is None and self._is_given_up(key)
        return Interrupted("proposals", key in self._cancelled) if given_up else None

    def cancel(self, lane: Lane) -> None:
        """Stop the analysis, or the search for vents, until `retry`. An answer that comes all the same is kept for
        then, and not shown."""
        if lane.key:
            self._cancelled.add(lane.key)
            lane.stop()

    def _is_given_up(self, key: str) -> bool:
        return key in self._refused or key in self._cancelled

    @property
    def is_flow_coming(self) -> bool:
        """Whether an answer about the flow is on the way, or will be asked for as soon as what was found is told."""
        return self.is_stale or self.breathing.is_busy or not self.breathing.rests_on(self.findings)

    def follow(self, state: AppState | None) -> None:
        """This is what the user wishes now; what is not known about it yet is computed."""
        self._state = state
        if state is not None and state.profile is not None:
            self.use(state.profile)
        if state is None:
            for lane in self.lanes:
                lane.stop()
            self.cutting.leave()
            self.breathing.leave()
            self.printing.leave()
            self.printed_flow.leave()
            self.sizing.leave()
            self.looking.leave()
            self.findings = self.backdrop = self.proposals = self.preview = self._tried = None
            self.is_stale = False
            self._preview_key = self._passing = ""
            # What failed or was cancelled may be tried again with the next part, or this one opened again.
            self._refused.clear()
            self._cancelled.clear()
            return
        self._follow_findings(state)
        if not self.is_stale:
            self._follow_rest(state)

    def use(self, profile: Profile) -> None:
        """Compute for this printer and resin."""
        self.printing.set_profile(profile)
        self.breathing.set_profile(profile)

    def retry(self) -> None:
        """Try again what failed or was cancelled, too."""
        self._refused.clear()
        self._cancelled.clear()
        self.cutting.retry()
        self.breathing.retry()
        self.printing.retry()
        self.printed_flow.retry()
        self.sizing.retry()
        self.looking.retry()
        self.follow(self._state)

    def know(self, state: AppState, preview: Cups, *, passing: bool) -> None:
        """The preview of this state is known already. passing: it is a step of a drag, which the next one replaces."""
        if self._passing:
            self._results.drop(self._passing)
        key = plan_key(state)
        self._passing = key if passing and key not in self._results else ""
        self._results.put(key, preview)

    def rest(self) -> None:
        """The drag is over: its last step stays."""
        self._passing = ""
        self.cutting.rest()
        self.breathing.rest()
        self.printing.rest()

    def _follow_findings(self, state: AppState) -> None:
        key = analysis_key(state)
        found: Analysed | None = None if key in self._cancelled else self._results.get(key)
        if found is None:
            if not self.is_stale:
                self.is_stale = True
                self.findings_changed.emit()
            self.proposing.stop()
            if self._is_given_up(key):
                self.analysis.stop()
                return
            analyse = self._analyse
            self.analysis.ask(key, lambda progress: analyse(state, progress))
            return
        self.analysis.stop()
        if self.findings is not found.findings or self.is_stale:
            self.is_stale = False
            if self.findings is not found.findings:
                self.findings, self.backdrop = found.findings, found.backdrop
                self.proposals = None
                # Until the cups with the vents are known those without are shown; `is_preview_current` tells.
                self.preview, self._preview_key = found.findings.cups, ""
            self.findings_changed.emit()

    def _follow_rest(self, state: AppState) -> None:
        findings = self.findings
        if findings is None:
            return
        key = proposals_key(state)
        proposals: Plan | None = None if key in self._cancelled else self._results.get(key)
        if self._is_given_up(key):
            self.proposing.stop()
        elif proposals is None:
            self.proposing.ask(key, lambda progress: _propose(findings, state, progress))
        if proposals is not self.proposals:
            self.proposals = proposals
            self.proposals_changed.emit()
        key, vents = plan_key(state), state.plan.drills
        preview: Cups | None = self._results.get(key) if vents else findings.cups
        if preview is not None:
            self._show_preview(preview, key)
        elif key not in self._refused:
            self.previewing.ask(key, lambda _: preview_of(findings, vents))
        self.cutting.follow(state, findings, passing=bool(self._passing))
        self.breathing.follow(state, findings, passing=bool(self._passing))
        self.printing.follow(state, findings, passing=bool(self._passing))
        self.printed_flow.follow(state)
        self.sizing.follow(state, None if proposals is None else proposals.vents)
        self.looking.follow(state, findings, self.breathing.profile, passing=bool(self._passing))

    def _show_preview(self, preview: Cups, key: str) -> None:
        is_news = key != self._preview_key
        self._preview_key = key
        if is_news or preview is not self.preview:
            self.preview = preview
            self.preview_changed.emit()

    def _keep(self, key: str, result: object) -> None:
        self._results.put(key, result)
        self.follow(self._state)

    def _fail(self, key: str, error: object, what: str) -> None:
        """Say it once, and do not try the same again by itself."""
        self._refused.add(key)
        self.failed.emit(error, what)
