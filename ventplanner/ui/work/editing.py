"""What the user does to the plan: each method makes an edit of the history, at once or when its fit is computed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import count
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Signal

from ventplanner import parameters as p
from ventplanner.analysis.limits import check_pitch
from ventplanner.app import edits
from ventplanner.app.edits import Edit
from ventplanner.app.history import History
from ventplanner.app.state import AppState
from ventplanner.errors import InputError, ParameterError
from ventplanner.geometry.pose import BuildFrame, Pose
from ventplanner.options import AnalysisOptions, InsideLimits, VentRules
from ventplanner.plan.model import Point, Vent
from ventplanner.plan.section_rules import Section
from ventplanner.profile import Profile
from ventplanner.ui.work.fits import FIT_PATIENCE_S, NOT_DONE
from ventplanner.ui.work.marking import Marks
from ventplanner.ui.work.shaping import Fitting, Naming

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings
    from ventplanner.analysis.openings import Opening
    from ventplanner.geometry.solid import FloatArray
    from ventplanner.ui.picture import ShownVent

Others = tuple[Vent, ...]


class Editing(Marks):
    """A session's edits. What cannot be done is told by `failed`, or by `drag_refusal` while a vent is shaped."""

    place_wanted = Signal(object, str)
    """A build point of the part as it is shown, and what is there."""

    @property
    def drag_refusal(self) -> str:
        """Why the vent that is dragged, turned or resized does not fit; "" if it does."""
        return self._refusal

    @property
    def dragged(self) -> ShownVent | None:
        """The vent that is dragged, as it is fitted so far; None outside a drag."""
        vent = next((v for v in self.plan.vents if f"vent {v.id}" == self._dragged), None)
        if vent is None or self.findings is None:
            return None
        from ventplanner.ui.picturing import shown

        return shown(self.findings, vent, "accepted")

    def show_place(self, at_mm: Point, what: str) -> None:
        """Have a place of the part (mm along the file's axes) shown in the view: `place_wanted` tells it."""
        state = self.state
        if state is not None:
            frame = BuildFrame.of(state.solid, state.pose) if self.findings is None else self.findings.scene.frame
            self.place_wanted.emit(frame.to_build(np.array(at_mm)), what)

    # History.

    def undo(self) -> None:
        """One edit back."""
        self._move(lambda history: history.undone())

    def redo(self) -> None:
        """One edit forward again."""
        self._move(lambda history: history.redone())

    def jump(self, index: int) -> None:
        """To this place of `names`; IndexError where there is none."""
        self._move(lambda history: history.jumped(index))

    def _move(self, to: Callable[[History[AppState]], History[AppState]]) -> None:
        def move() -> None:
            if self._history is not None:
                self._go(to(self._history))

        self._after_fit(move)

    # Proposals.

    def next_proposal(self) -> None:
        """Select the next open proposal."""
        self._step_proposal(1)

    def previous_proposal(self) -> None:
        """Select the open proposal before."""
        self._step_proposal(-1)

    def accept(self, proposal_id: str) -> None:
        """Take a proposal into the plan; one that a typed figure has taken there meanwhile stays as it was typed."""

        def edit(state: AppState) -> Edit:
            if self._is_taken(state, proposal_id):
                return Edit("", state)
            return edits.accept(state, _of(self.proposals, proposal_id))

        self._edit(edit)

    def _is_taken(self, state: AppState, proposal_id: str) -> bool:
        """Whether a proposal is an accepted vent by now."""
        return all(v.id != proposal_id for v in self.proposals) and any(n == proposal_id for n, _ in state.proposals)

    def accept_all(self) -> None:
        """Take all open proposals into the plan, as one edit."""
        if self.proposals:
            self._edit(lambda state: edits.accept(state, *self.proposals))

    def set_aside_proposal(self, proposal_id: str) -> None:
        """Do not offer a proposal any more; one that a typed figure has accepted meanwhile is taken back first."""

        def edit(state: AppState) -> Edit:
            if self._is_taken(state, proposal_id):
                return edits.set_aside(edits.remove(state, proposal_id).state, dict(state.proposals)[proposal_id])
            return edits.set_aside(state, _of(self.proposals, proposal_id))

        self._edit(edit)

    def bring_back(self, proposal_id: str) -> None:
        """Offer a proposal again that was set aside."""
        self._edit(lambda state: edits.bring_back(state, _of(state.set_aside, proposal_id)))

    # Vents.

    def remove(self, vent_id: str) -> None:
        """Take a vent out of the plan; the proposal that it began as is open again."""
        self._edit(lambda state: edits.remove(state, vent_id))

    # stepping: the figure was stepped by the arrow keys, not typed (see STEP_PAUSE_S).

    # A vent is named by its id; "proposal 3" is accepted with the figure.

    def set_depth(self, vent_id: str, mm: float, stepping: bool = False) -> None:
        """How far the drill goes beyond the inner skin."""

        def change(state: AppState, name: str) -> Edit:
            if self.findings is not None and not self.stale and state.keep_clear is not None:
                from ventplanner.app.keeping_clear import check_depth

                check_depth(self.findings.keeping_clear(state.keep_clear), edits.vent_of(state, name), mm)
            return edits.set_depth(state, name, mm)

        self._edit(lambda _: self._figured(vent_id, change), stepping)

    def set_diameter(self, vent_id: str, mm: float, stepping: bool = False) -> None:
        """Drill a vent wider or narrower; it is fitted to its wall again."""

        def fitting(findings: Findings, vent: Vent, others: Others) -> Vent | str:
            from ventplanner.app.dragging import resized

            return resized(findings, vent, mm, others)

        def change(state: AppState, name: str, fitted: Vent) -> Edit:
            edit = edits.set_diameter(state, name, mm)
            return edit._replace(state=replace(edit.state, plan=edit.state.plan.with_vent(fitted)))

        self._shape(vent_id, fitting, self._fitted(vent_id, change, stepping), lambda: p.DIAMETER_MM.check(mm))

    def set_section(self, vent_id: str, section: Section, stepping: bool = False) -> None:
        """Give a vent another section or countersink; it is fitted to its wall again."""

        def fitting(findings: Findings, vent: Vent, others: Others) -> Vent | str:
            from ventplanner.app.dragging import shaped

            return shaped(findings, vent, section, others)

        def change(state: AppState, name: str, fitted: Vent) -> Edit:
            return edits.set_section(state, fitted)

        self._shape(vent_id, fitting, self._fitted(vent_id, change, stepping), section.check)

    def set_axis(self, vent_id: str, axis: Point, stepping: bool = False) -> None:
        """Turn a vent about the point where it enters: axis from outside to inside, along the file's axes."""

        def fitting(findings: Findings, vent: Vent, others: Others) -> Vent | str:
            from ventplanner.app.dragging import turned

            return turned(findings, vent, np.asarray(axis), others)

        def change(state: AppState, _name: str, fitted: Vent) -> Edit:
            return edits.set_axis(state, fitted)

        self._shape(vent_id, fitting, self._fitted(vent_id, change, stepping), lambda: _direction(axis))

    def _fitted(self, vent_id: str, change: Callable[[AppState, str, Vent], Edit], stepping: bool) -> Naming:
        """What makes the edit when the vent is fitted; a proposal may have got another id on its way into the plan."""

        def name(fitted: Vent) -> Edit:
            return self._figured(vent_id, lambda state, name: change(state, name, replace(fitted, id=name)))

        return self._figure(name, stepping)

    def _figured(self, vent_id: str, change: Callable[[AppState, str], Edit]) -> Edit:
        """The edit that changes a figure of a vent, or accepts a proposal with it."""
        proposal = self._still_proposed(vent_id)
        if proposal is not None:
            return edits.accept_with(self._present, proposal, change)
        return change(self._present, vent_id.rpartition(" ")[2])

    def drag_to(self, vent_id: str, point: FloatArray, normal: FloatArray, hold_axis: bool = False) -> None:
        """Move a vent to a point of the skin, (3,) build point and outward normal. The newest wish wins.

        vent_id: "vent 3", "proposal 3", or "3" (the vent if there is one). A proposal is accepted at its new place.
        """
        point, normal = np.array(point, dtype=np.float64), np.array(normal, dtype=np.float64)
        word = self._dragged or self._word(vent_id)
        vent = self._find(word)
        if vent is None:
            return
        if not self._dragged:
            if self._is_waiting and not self._shaper.lane.finish(FIT_PATIENCE_S):
                return  # what was typed comes first; the pointer will move again
            self._before_drag = self._history
        self._dragged, self._ending = word, False

        def fitting(findings: Findings, given: Vent, others: Others) -> Vent | str:
            from ventplanner.app.dragging import moved

            return moved(findings, given, point, normal, hold_axis, others)

        self._ask(vent, fitting, lambda fitted: self._dragged_edit(word, fitted))

    def drag_end(self) -> None:
        """The drag is over: it is one entry of the history from its beginning to here."""
        self._ending = True
        if not self._shaper.lane.is_busy:
            self._end_drag()

    def drag_cancel(self) -> None:
        """Give the drag up: everything is as it was before it, whatever of it was still on its way."""
        if not self._dragged:
            return
        self._shaper.lane.stop()
        before = self._before_drag
        self._end_drag()
        if before is not None:
            self._go(before)
        self._go_on()

    def new_vent(self, point: FloatArray, normal: FloatArray) -> None:
        """Drill one more vent at a point of the skin, (3,) build point and outward normal, and select it."""
        point, normal = np.array(point, dtype=np.float64), np.array(normal, dtype=np.float64)

        def fitting(findings: Findings, given: Vent, others: Others) -> Vent | str:
            from ventplanner.app.dragging import moved

            return moved(findings, given, point, normal, False, others)

        self._add(fitting)

    def drill_on(self, opening: Opening) -> None:
        """Go on from an opening of the part along its axis, through the wall behind; as one more vent."""

        def fitting(findings: Findings, given: Vent, others: Others) -> Vent | str:
            from ventplanner.app.from_openings import drilled_on

            return drilled_on(findings, given, opening, others)

        self._add(fitting)

    def drill_on_at(self, point: FloatArray, normal: FloatArray) -> None:
        """Go on from the floor of a blind hole, (3,) build point and outward normal, along its axis."""
        at = np.array(point, dtype=np.float64), np.array(normal, dtype=np.float64)

        def fitting(findings: Findings, given: Vent, others: Others) -> Vent | str:
            from ventplanner.app.from_openings import drilled_on_at

            return drilled_on_at(findings, given, at, others)

        self._add(fitting)

    def _add(self, fitting: Fitting) -> None:
        """Take one more vent into the plan and select it, if it fits; `said` tells why not."""

        def name(fitted: Vent) -> Edit:
            return edits.add(self._present, replace(fitted, id=self._free_name()))

        def begin() -> None:
            if self.findings is None or self.stale:
                self._fail(InputError("The part is not analysed as it hangs now.", "Wait until it is."), NOT_DONE)
                return
            origin, axis = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)
            width = self._present.rules.diameter_mm
            blank = Vent("", "", "", "vent", origin, origin, axis, width, 0.0, 0.0, 0.0)
            self._placing = name
            self._ask(blank, fitting, name)

        self._after_fit(begin)

    def _free_name(self) -> str:
        """An id that no vent bears, accepted, proposed or set aside."""
        taken = {v.id for v in (*self.plan.vents, *self.proposals, *self.set_aside)}
        return next(str(n) for n in count(1) if str(n) not in taken)

    def propose_again(self, cup: str) -> None:
        """Offer what was proposed for a cup once more, where its vents have been moved away."""
        self._edit(lambda state: edits.propose_again(state, cup))

    # Cavities, and how the part hangs.

    def leave_alone(self, cavity: str, note: str = "") -> None:
        """Leave a cavity as it is, with a note why."""
        findings = self.findings
        if findings is None or self.stale or all(c.id != cavity for c in findings.cavities):
            return
        from ventplanner.app.lookup import point_in

        x, y, z = findings.scene.frame.to_file(point_in(findings, findings.cavity(cavity))).tolist()
        self._edit(lambda state: edits.leave_alone(state, cavity, note, (x, y, z)))

    def take_up(self, cavity: str) -> None:
        """Work on a cavity again."""
        self._edit(lambda state: edits.take_up(state, cavity))

    def set_pose(self, pose: Pose, stepping: bool = False) -> None:
        """Hang the part otherwise."""

        def edit(state: AppState) -> Edit:
            check_pitch(state.solid, pose, state.options.pitch_mm)
            return edits.set_pose(state, pose)

        self._edit(edit, stepping)

    def set_options(self, options: AnalysisOptions) -> None:
        """Analyse otherwise."""

        def edit(state: AppState) -> Edit:
            check_pitch(state.solid, state.pose, options.pitch_mm)
            return edits.set_options(state, options)

        self._edit(edit)

    def set_rules(self, rules: VentRules) -> None:
        """Propose other vents from now on."""
        self._edit(lambda state: edits.set_rules(state, rules))

    def set_limits(self, limits: InsideLimits) -> None:
        """Look inside with other limits."""
        self._edit(lambda state: edits.set_limits(state, limits))

    def set_profile(self, profile: Profile) -> None:
        """Compute suction and printed widths of this part for another printer or resin."""
        self._edit(lambda state: edits.set_profile(state, profile))

    def _dragged_edit(self, word: str, fitted: Vent) -> Edit:
        """The edit of a step: a proposal becomes a vent with the first one that fits."""
        kind, _, name = word.partition(" ")
        if kind == "proposal" and not self._placed_by_drag:
            accepted = edits.accept(self._present, _of(self.proposals, name)).state
            self._placed_by_drag = accepted.plan.vents[-1].id
            self._dragged = f"vent {self._placed_by_drag}"
            edit = edits.move(accepted, replace(fitted, id=self._placed_by_drag))
        else:
            edit = edits.move(self._present, replace(fitted, id=self._placed_by_drag or name))
        return edit._replace(name=f"Place vent {self._placed_by_drag}") if self._placed_by_drag else edit

    def _step_proposal(self, by: int) -> None:
        words = [f"proposal {v.id}" for v in self.proposals]
        if not words:
            return
        if self._selected in words:
            self.select(words[(words.index(self._selected) + by) % len(words)])
        else:
            self.select(words[0 if by > 0 else -1])

    def _word(self, vent_id: str) -> str:
        if " " in vent_id:
            return vent_id
        return f"vent {vent_id}" if any(v.id == vent_id for v in self.plan.vents) else f"proposal {vent_id}"

    def _find(self, word: str) -> Vent | None:
        kind, _, name = word.partition(" ")
        return next((v for v in (self.plan.vents if kind == "vent" else self.proposals) if v.id == name), None)


def _of(vents: Iterable[Vent], vent_id: str) -> Vent:
    for vent in vents:
        if vent.id == vent_id:
            return vent
    raise InputError(f"There is no proposal {vent_id} any more.", "Choose another one.")


def _direction(axis: Point) -> None:
    if not np.isfinite(axis).all() or float(np.linalg.norm(axis)) < 1e-9:
        raise ParameterError(f"The axis {axis} is no direction.", "Give three numbers that are not all zero.")
