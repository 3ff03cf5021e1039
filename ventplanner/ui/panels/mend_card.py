"""The card of mending: what would be done to the mesh, step by step and with its places; each step can be refused."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QVBoxLayout

from ventplanner.app.mend_edit import MendFacts, MendStep
from ventplanner.errors import MeshError, ParameterError
from ventplanner.mend_parameters import LARGEST_MM, REDRAW, STEPS, TOLERANCE_MM
from ventplanner.parameters import Parameter
from ventplanner.ui.numbers import complaint, parse
from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Figures, Line, button, clear, label, restyle, row
from ventplanner.ui.panels.notes import Note, Notes, of_mesh
from ventplanner.ui.units import as_typed, sentence, shown_unit
from ventplanner.ui.words import count, exact_mm, file_name, volume

if TYPE_CHECKING:
    from collections.abc import Callable

    from ventplanner.mending.model import Loss
    from ventplanner.ui.session import Session

TITLES = {
    "weld": "Join what nearly meets",
    "duplicates": "Remove repeated faces",
    "degenerate": "Remove faces without area",
    "junctions": "Divide at vertices on edges",
    "orient": "Turn flipped faces",
    "split": "Part skins that touch",
    "loose": "Remove scraps",
    "holes": "Fill small holes",
    "redraw": "Draw what is broken anew",
    "nest": "Turn skins inside out",
    "untangle": "Draw tangled skins anew",
    "unite": "Unite what overlaps",
}
LOOKING = "Looking for what is to be mended…"
NOTHING = "There is nothing to mend: every edge has two faces, and nothing overlaps."
ALL_REFUSED = "Nothing is done: what would be is refused."
DONE = "The part is mended from here on. An export writes it so, and reads it again."
CHOOSE = "What is ticked is done, as one step of undo. Each line can show its places."


class RuleField(Line):
    """A number of mending: `entered` calls back with what is allowed."""

    def __init__(self, parameter: Parameter[object], entered: Callable[[], object]) -> None:
        super().__init__()
        self._parameter, self._entered = parameter, entered
        self._value = parameter.default
        self.setFixedWidth(96)
        self.setAccessibleName(f"{parameter.label}, {shown_unit(parameter.unit)}")
        self.setPlaceholderText("automatic" if parameter.default is None else "")
        if parameter.default is not None:
            self.setText(as_typed(float(parameter.default), parameter.unit))  # type: ignore[arg-type]
        about = sentence(f"{parameter.text[:1].upper()}{parameter.text[1:]}. Usual: {parameter.default_text}.")
        self.setToolTip(about)
        self.setAccessibleDescription(about)
        self.editingFinished.connect(self._take)

    @property
    def value(self) -> object:
        """What was allowed last."""
        return self._value

    def _take(self) -> None:
        try:
            value = parse(self._parameter, self.text())
        except ParameterError as error:
            restyle(self, "wrong", True)
            self.setToolTip(complaint(self._parameter, error))
            return
        restyle(self, "wrong", False)
        if value != self._value:
            self._value = value
            self._entered()


class MendCard(Card):
    """`leave` is called when the part is left as it is. Gone with the part that it tells of."""

    def __init__(self, session: Session, leave: Callable[[], object]) -> None:
        super().__init__(session)
        state = session.state
        self._solid = None if state is None else state.solid
        self._refused: set[str] = set()
        self._redraw = False
        self.heading = Heading(f"Mend · {file_name(session.path)}" if session.path else "Mend", "Mend the part")
        self.told = label(LOOKING, wrap=True)
        self.boxes: dict[str, QCheckBox] = {}
        self._steps, self._notes = QVBoxLayout(), Notes(session)
        self._steps.setSpacing(3)
        fields = Figures()
        self.tolerance = RuleField(TOLERANCE_MM, self.look)  # type: ignore[arg-type]
        self.largest = RuleField(LARGEST_MM, self.look)  # type: ignore[arg-type]
        unit = shown_unit("mm")
        fields.add_field(f"Nearly meets, {unit}", self.tolerance)
        fields.add_field(f"Widest hole filled, {unit}", self.largest)
        self.mend = button("Mend it", session.mend, "primary")
        self.leave = button("Leave it as it is", leave)
        self.column.addWidget(self.heading)
        self.column.addWidget(self.told)
        self.column.addLayout(self._steps)
        self.column.addLayout(row(self.mend, self.leave))
        self.column.addWidget(fields)
        self.column.addLayout(self._notes)
        self.column.addStretch(1)
        session.mend_found.connect(self._show)
        self.look()

    def look(self) -> None:
        """Ask what would be done by what is chosen now."""
        from ventplanner.mending.rules import MendRules  # loads the analysis, which the start does not wait for

        state = self.session.state
        if state is None:
            return
        self.told.setText(LOOKING)
        restyle(self.told, "role", "")
        self.mend.setEnabled(False)
        rules = MendRules(
            tolerance_mm=float(self.tolerance.value),  # type: ignore[arg-type]
            largest_mm=self.largest.value,  # type: ignore[arg-type]
            nested=state.options.nested,
            without=frozenset(self._refused),
            redraw=self._redraw,
        )
        self.session.look_for_damage(rules)

    def refresh(self) -> bool:
        """Gone with the part that it tells of."""
        state = self.session.state
        return state is not None and state.solid is self._solid

    def _show(self, answer: object) -> None:
        if isinstance(answer, MendFacts):
            self._show_facts(answer)
        elif isinstance(answer, BaseException):
            cause, way_out = getattr(answer, "cause", str(answer)), getattr(answer, "way_out", "")
            self.told.setText(sentence(f"{cause} {_for_card(way_out)}"))
            restyle(self.told, "role", "wrong")
            self.mend.setEnabled(False)
            self._list((), offer=isinstance(answer, MeshError))
            place = getattr(answer, "at_mm", None)
            self._notes.say([Note("The place", cause, place, "what cannot be closed")] if place is not None else [])

    def _show_facts(self, facts: MendFacts) -> None:
        self._list(facts.steps)
        self.mend.setEnabled(bool(facts.steps))
        self.told.setText(CHOOSE if facts.steps else ALL_REFUSED if self._refused else NOTHING)
        self._notes.say(_left_and_volume(facts))

    def _list(self, steps: tuple[MendStep, ...], offer: bool = False) -> None:
        """One box for each step that has work, or is refused; below it a line for each thing that it does. What draws
        broken skins anew is done only if it is ticked; offer: whether to show it anyhow."""
        found: dict[str, list[MendStep]] = {}
        for one in steps:
            found.setdefault(one.step, []).append(one)
        focused = next((name for name, box in self.boxes.items() if box.hasFocus()), "")
        clear(self._steps)
        self.boxes = {}
        for name, about in STEPS.items():
            is_last = name == REDRAW and (self._redraw or offer)
            if name not in found and name not in self._refused and not is_last:
                continue
            box = QCheckBox(TITLES.get(name, name))
            box.setChecked(self._redraw if name == REDRAW else name not in self._refused)
            box.setToolTip(f"It {about}.")
            box.setAccessibleDescription(f"It {about}.")
            box.toggled.connect(partial(self._refuse, name))
            self.boxes[name] = box
            self._steps.addSpacing(4)
            self._steps.addWidget(box)
            for one in found.get(name, ()):
                self._steps.addLayout(line_of(self.session, one))
            if name == focused:
                box.setFocus()

    def _refuse(self, name: str, taken: bool) -> None:
        if name == REDRAW:
            self._redraw = taken
        else:
            (self._refused.discard if taken else self._refused.add)(name)
        self.look()


class MendedCard(Card):
    """What mending did, until something is selected."""

    def __init__(self, session: Session, facts: MendFacts) -> None:
        super().__init__(session)
        state = session.state
        self._solid = None if state is None else state.solid
        self.column.addWidget(Heading("Mended", count(sum(one.count for one in facts.steps), "change")))
        self.column.addWidget(label(DONE, wrap=True))
        # In the order of the list from which they were chosen.
        for one in sorted(facts.steps, key=lambda one: list(STEPS).index(one.step)):
            self.column.addLayout(line_of(session, one))
        notes = Notes(session)
        notes.say(_left_and_volume(facts))
        self.column.addLayout(notes)
        self.undo = button("Undo mending", session.undo, tip="Undo (Ctrl+Z)")
        self.column.addLayout(row(self.undo))
        self.column.addStretch(1)
        self._edit = session.undo_name

    def refresh(self) -> bool:
        """Gone with the part that it tells of; the way back is offered as long as it is one step."""
        self.undo.setVisible(self.session.undo_name == self._edit)
        state = self.session.state
        return state is not None and state.solid is self._solid


def line_of(session: Session, one: MendStep) -> QHBoxLayout:
    """What a step does and how often; each click shows the next of its places."""
    made = QHBoxLayout()
    made.setContentsMargins(24, 0, 0, 0)
    made.setSpacing(8)
    text = sentence(f"{one.what[:1].upper()}{one.what[1:]}: {one.count}")
    if one.loss is not None:
        text += _lost(one.loss)
    made.addWidget(label(text, "muted", wrap=True), 1)
    walk = [0]

    def show() -> None:
        at = walk[0] % len(one.places_mm)
        walk[0] += 1
        of = f", {at + 1} of {len(one.places_mm)}" if len(one.places_mm) > 1 else ""
        session.show_place(one.places_mm[at], f"{one.what}{of}")

    if one.places_mm:
        name = "Show place" if len(one.places_mm) == 1 else "Show next place"
        made.addWidget(button("Show", show, name=f"{name}: {text}", tip=name), 0, Qt.AlignmentFlag.AlignTop)
    return made


def _lost(loss: Loss) -> str:
    told = f"; nowhere more than {exact_mm(max(0.001, round(loss.distance_mm, 3)))} off"
    if loss.volume_mm3 is not None:
        told += f", {volume(abs(loss.volume_mm3))} {'more' if loss.volume_mm3 > 0.0 else 'less'}"
    if loss.detail_mm is not None:
        told += f", what is finer than {exact_mm(round(loss.detail_mm, 2))} may be gone"
    return told + (f", {volume(loss.doubt_mm3)} more or less by how gaps are spanned" if loss.doubt_mm3 else "")


def _left_and_volume(facts: MendFacts) -> list[Note]:
    left = [note._replace(heading="Stays as it is") for note in of_mesh(facts.left)]
    before, after = facts.volumes
    more = "as before" if after == before else f"{volume(abs(after - before))} {'more' if after > before else 'less'}"
    changed = [Note("Volume", f"{volume(before)} before, then {more}")] if facts.steps else []
    return [*left, *changed, *(Note("How it was read", sentence(text)) for text in facts.notes)]


def _for_card(way_out: str) -> str:
    here = {
        "with --largest-hole": "in the field below",
        "with --redraw": "by the box below",
        "with --nested auto": "in the options",
    }
    for there, place in here.items():
        way_out = way_out.replace(there, place)
    return way_out
