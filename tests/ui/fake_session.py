"""A session without threads: a part with three invented cavities, and the real edits. For tests of the panels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from PySide6.QtCore import Qt, Signal
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit, QWidget
from ui.fake_mending import FakeMending
from ui.fake_part import PROPOSALS, Job, Left, box, findings_of

from ventplanner.app import edits
from ventplanner.app.history import History
from ventplanner.app.state import BY_NEED, AppState, open_proposals
from ventplanner.app.verdict import Verdict
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.outline import turned_outline
from ventplanner.geometry.pose import BuildFrame, Pose
from ventplanner.hollowing.rules import HollowRules
from ventplanner.options import AnalysisOptions, InsideLimits, VentRules
from ventplanner.plan.model import NoVent, Passage, Plan, Vent
from ventplanner.plan.section_rules import Section
from ventplanner.ui.picture import Band, Mesh, Picture, ShownCavity, ShownVent
from ventplanner.ui.work.analyst import Interrupted
from ventplanner.ui.work.colours import FileColours
from ventplanner.ui.work.previewing import HollowPreviews


class FakeSession(FakeMending):
    """See `ventplanner.ui.session.Session`."""

    changed = Signal()
    part_changed = Signal()
    plan_changed = Signal()
    widths_by_need = None
    stepped = Signal()
    selection_changed = Signal()
    job_changed = Signal()
    failed = Signal(object, str)
    exported = Signal(object)
    hollowed = Signal(object)
    hollow_rules = HollowRules()
    saved = Signal(str)
    said = Signal(str)
    move_wanted = Signal(object)
    place_wanted = Signal(object, str)
    findings_changed = Signal()
    file_changed = Signal(str)
    flow_changed = Signal()

    is_looking = False
    is_sizing = False

    def walk_of(self, _word: str) -> None:
        return None

    kept = None

    def is_kept(self, _word: str) -> bool:
        return False

    def compared(self, _word: str) -> tuple[()]:
        return ()

    def keep_place(self) -> None:
        self.calls.append(("keep_place",))

    joins: tuple[Passage, ...] = ()
    passage_refusal = None
    passage_in_hand = None
    refused_at = None
    passage_tried = Signal()

    def drop_passage(self) -> None:
        self.calls.append(("drop_passage",))

    def size_of(self, _proposal: str) -> None:
        return None

    def load_supports(self, path: str) -> None:
        self.calls.append(("load_supports", path))

    def remove_supports(self) -> None:
        self.calls.append(("remove_supports",))

    def __init__(self) -> None:
        super().__init__()
        self.history: History[AppState] | None = None
        self.selected = self.path = self.plan_path = ""
        self.job: Job | None = None
        self.stale = False
        self.is_dragging = False
        self.dragged = None
        self.drag_refusal = ""
        self.missing: tuple[NoVent, ...] = ()
        self.interrupted: Interrupted | None = None
        self.preview = None
        self.is_unsaved = self.may_write_sheet = False
        self.calls: list[tuple[Any, ...]] = []
        self._part: Mesh | None = None
        self.breathing = self.breathing_printed = None
        self.is_flow_known = self.is_flow_coming = False
        self.remarks: tuple[Left, ...] = ()
        self.at_first = ""
        self.inside = None
        self.file_colours = FileColours()
        self.hollow_previews = HollowPreviews(self)

    # What is known

    @property
    def is_known(self) -> bool:
        return not self.stale

    @property
    def state(self) -> AppState | None:
        return None if self.history is None else self.history.state

    @property
    def findings(self) -> Any:
        return None if self.state is None else findings_of(self.state)

    @property
    def plan(self) -> Plan:
        return Plan() if self.state is None else self.state.plan

    @property
    def proposals(self) -> tuple[Vent, ...]:
        return () if self.state is None else open_proposals(self.state, PROPOSALS)

    @property
    def set_aside(self) -> tuple[Vent, ...]:
        return () if self.state is None else self.state.set_aside

    @property
    def names(self) -> tuple[str, ...]:
        return () if self.history is None else self.history.names

    @property
    def index(self) -> int:
        return 0 if self.history is None else self.history.index

    @property
    def undo_name(self) -> str | None:
        return None if self.history is None else self.history.undo_name

    @property
    def redo_name(self) -> str | None:
        return None if self.history is None else self.history.redo_name

    @property
    def left(self) -> tuple[Left, ...]:
        if self.state is None:
            return ()
        alone = dict(self.plan.left_alone)
        seen: dict[str, Vent] = {}
        for proposal in self.proposals:
            if proposal.cavity not in alone:
                seen.setdefault(proposal.cavity, proposal)
        return tuple(
            Left(f"{c} is sealed: accept vent {v.id}, or leave it as it is.", f"proposal {v.id}")
            for c, v in seen.items()
        )

    @property
    def verdict(self) -> Verdict | None:
        if self.state is None:
            return None
        sealed = [c.id for c in self.findings.cavities if any(v.cavity == c.id for v in self.proposals)]
        return Verdict("sealed" if sealed else "breathing", f"3 cavities: {', '.join(sealed) or 'none'} sealed")

    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        past = () if self.history is None else (self.history.state, *(x.state for x in reversed(self.history.past)))
        return tuple(pair for state in past for pair in state.plan.left_alone)

    @property
    def picture(self) -> Picture | None:
        state = self.state
        if state is None:
            return None
        self._part = self._part or Mesh("part", state.solid.vertices, state.solid.faces)
        open_cavities = {v.cavity for v in self.proposals}
        alone = dict(self.plan.left_alone)
        none = np.zeros(0, dtype=np.int32)
        cavities = tuple(
            ShownCavity(
                c.id, k, "sealed" if c.id in open_cavities else "breathing", c.id in alone, none, c.cups[0].cup.start
            )
            for k, c in enumerate(self.findings.cavities)
        )
        heights = np.linspace(0.0, 80.0, 81)
        bands = tuple(
            Band(c.id, k, np.full(81, 100.0 * (k + 1)), np.full(81, 100.0 if c.id in open_cavities else 0.0))
            for k, c in enumerate(self.findings.cavities)
        )
        pairs = (*(("accepted", v) for v in self.plan.vents), *(("proposed", v) for v in self.proposals))
        vents = tuple(
            ShownVent(v.id, v.cavity, status, v.kind, v.start_mm, v.end_mm, v.diameter_mm, v.entry_mm)  # type: ignore[arg-type]
            for status, v in pairs
        )
        pose = state.pose
        return Picture(self._part, None, 80.0, pose.gap_mm, pose.on, cavities, vents, heights, bands, self.selected)

    # What is done

    def open(self, path: str, unit: str | None = None) -> None:
        self.calls.append(("open", path))
        self.path = path
        self.history = History(AppState(box(path), rules=BY_NEED, profile=self.usual_profile))
        self.selected = ""
        self.is_unsaved = False
        self.part_changed.emit()
        self._tell()

    def close_part(self) -> None:
        self.history = None
        self.selected = self.path = self.plan_path = ""
        self._tell()

    def save(self, path: str) -> None:
        self.calls.append(("save", path))
        self.plan_path = path
        self.is_unsaved = False
        self.saved.emit(path)
        self._tell()

    def select(self, selected: str) -> None:
        if selected != self.selected:
            self.selected = selected
            self.selection_changed.emit()
            self.changed.emit()

    def next_proposal(self) -> None:
        self._step(1)

    def previous_proposal(self) -> None:
        self._step(-1)

    def _step(self, step: int) -> None:
        words = [f"proposal {v.id}" for v in self.proposals]
        at = words.index(self.selected) if self.selected in words else (-1 if step > 0 else 0)
        if words:
            self.select(words[(at + step) % len(words)])

    def accept(self, name: str) -> None:
        self._edit(edits.accept, next(v for v in self.proposals if v.id == name))
        self.select(f"vent {name}")

    def accept_all(self) -> None:
        self._edit(edits.accept, *self.proposals)

    def set_aside_proposal(self, name: str) -> None:
        self._edit(edits.set_aside, next(v for v in self.proposals if v.id == name))

    def bring_back(self, name: str) -> None:
        self._edit(edits.bring_back, next(v for v in self.set_aside if v.id == name))

    def remove(self, name: str) -> None:
        self._edit(edits.remove, name)

    def set_diameter(self, name: str, mm: float, _stepping: bool = False) -> None:
        self._figured(name, lambda state, vent_id: edits.set_diameter(state, vent_id, mm))

    def set_depth(self, name: str, mm: float, _stepping: bool = False) -> None:
        self._figured(name, lambda state, vent_id: edits.set_depth(state, vent_id, mm))

    def set_axis(self, name: str, axis: tuple[float, float, float], _stepping: bool = False) -> None:
        def turn(state: AppState, vent_id: str) -> edits.Edit:
            return edits.set_axis(state, replace(edits.vent_of(state, vent_id), axis=axis))

        self._figured(name, turn)

    def set_section(self, name: str, section: Section, _stepping: bool = False) -> None:
        def shape(state: AppState, vent_id: str) -> edits.Edit:
            vent = edits.vent_of(state, vent_id)
            outwards = -BuildFrame.of(state.solid, state.pose).direction_to_build(np.asarray(vent.axis))
            outline = turned_outline(section.outline.shape, section.outline.length_mm, section.turn_deg, outwards)
            return edits.set_section(state, replace(vent, outline=outline, countersink=section.countersink))

        self._figured(name, shape)

    def _figured(self, word: str, change: Callable[[AppState, str], edits.Edit]) -> None:
        kind, _, name = word.rpartition(" ")
        if kind == "proposal":
            proposal = next(v for v in self.proposals if v.id == name)
            self.selected = f"vent {name}"
            self._edit(lambda state: edits.accept_with(state, proposal, change))
        else:
            self._edit(lambda state: change(state, name))

    kept_area = 0.0

    def hollow(self, rules: HollowRules, keep_solid: FaceMask | None = None) -> None:
        self.calls.append(("hollow", rules, keep_solid))

    def close_opening(self, opening: object) -> None:
        self.calls.append(("close_opening", opening))

    def take_opening(self, opening: object) -> None:
        self.move_wanted.emit(opening)

    def move_opening(self, opening: object, point: Any, normal: Any) -> None:
        self.calls.append(("move_opening", opening, tuple(point), tuple(normal)))

    def leave_alone(self, cavity: str, note: str) -> None:
        self._edit(edits.leave_alone, cavity, note, (20.0, 20.0, 10.0))

    def take_up(self, cavity: str) -> None:
        self._edit(edits.take_up, cavity)

    def set_pose(self, pose: Pose, _stepping: bool = False) -> None:
        self._edit(edits.set_pose, pose)

    def set_options(self, options: AnalysisOptions) -> None:
        self._edit(edits.set_options, options)

    def set_limits(self, limits: InsideLimits) -> None:
        self._edit(edits.set_limits, limits)

    def set_rules(self, rules: VentRules) -> None:
        self._edit(edits.set_rules, rules)

    def undo(self) -> None:
        assert self.history is not None
        self.history = self.history.undone()
        self._tell()

    def redo(self) -> None:
        assert self.history is not None
        self.history = self.history.redone()
        self._tell()

    def jump(self, index: int) -> None:
        assert self.history is not None
        self.history = self.history.jumped(index)
        self._tell()

    def export(self, path: str, overwrite: bool = False) -> None:
        self.calls.append(("export", path, overwrite))

    def show_place(self, at_mm: tuple[float, float, float], what: str) -> None:
        self.calls.append(("show_place", at_mm, what))

    def analyse_again(self) -> None:
        self.calls.append(("analyse_again",))

    def cancel(self) -> None:
        self.calls.append(("cancel",))

    def set_unit(self, unit: str) -> None:
        self.calls.append(("set_unit", unit))

    def reload(self, path: str = "") -> None:
        self.calls.append(("reload", path))

    def recoverable(self) -> tuple[Any, ...]:
        return ()

    def drag_cancel(self) -> None:
        self.calls.append(("drag_cancel",))

    def drag_end(self) -> None:
        self.calls.append(("drag_end",))

    def warm_up(self) -> None:
        self.calls.append(("warm_up",))

    def shutdown(self, keep_unsaved: bool = False) -> None:
        self.calls.append(("shutdown", keep_unsaved))

    def set_job(self, job: Job | None) -> None:
        self.job = job
        self.job_changed.emit()

    def _edit(self, do: Callable[..., edits.Edit], *values: Any) -> None:
        assert self.history is not None
        self.history = self.history.did(*do(self.history.state, *values))
        self.is_unsaved = True
        self._tell()

    def _tell(self) -> None:
        self.selection_changed.emit()
        self.changed.emit()


def press(window: QWidget, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    QTest.keyClick(window, key, modifier)


def type_into(field: QLineEdit, text: str, end: Qt.Key = Qt.Key.Key_Return) -> None:
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, text)
    QTest.keyClick(field, end)
