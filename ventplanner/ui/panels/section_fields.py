"""The rows of a vent's card for its section and for a flared entry; rows that say nothing of it are not shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, cast

import numpy as np
from PySide6.QtCore import QSignalBlocker
from PySide6.QtWidgets import QVBoxLayout, QWidget

from ventplanner.errors import ParameterError
from ventplanner.geometry.outline import ROUND, Outline, Shape, turn_of
from ventplanner.geometry.pose import BuildFrame
from ventplanner.plan.model import Countersink, Vent
from ventplanner.plan.section_rules import LEAST_DEPTH_MM, LONGEST_MM, Section
from ventplanner.ui.panels.fields import Choice, Figures, NumberField
from ventplanner.ui.units import sentence

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

SHAPES: tuple[tuple[Shape, str], ...] = (("round", "round"), ("slot", "slot"), ("square", "square"))
ENTRIES = ("straight", "countersunk")
LONGER, WIDER, DEEP = 3.0, 1.6, 0.3
"""What a new slot begins with (times its width), a new countersink (times the width), and its share of the wall."""

TURNED = "0° lies level, 90° stands upright; anticlockwise seen from outside"


class SectionFields(QWidget):
    """Shape, length and turn of a vent's section; width and depth of its countersink."""

    def __init__(self, session: Session, word: str, say: Callable[[str], object]) -> None:
        super().__init__()
        self._session, self._word, self._say = session, word, say
        self._vent: Vent | None = None
        self.shape, self.entry = Choice(), Choice()
        self.shape.setAccessibleName("Section")
        self.entry.setAccessibleName("Entry")
        self.shape.addItems([text for _, text in SHAPES])
        self.entry.addItems(list(ENTRIES))
        self.length = NumberField("Length", "mm", 0.5, _above(0.0, LONGEST_MM), self)
        self.turn = NumberField("Turned by", "°", 5.0, _above(-360.0, 360.0), self)
        self.wide = NumberField("Width at the skin", "mm", 0.2, _above(0.0, LONGEST_MM), self)
        self.deep = NumberField("Depth", "mm", 0.1, _above(LEAST_DEPTH_MM, LONGEST_MM), self)
        self._place()
        self.shape.activated.connect(lambda _: self._reshape())
        self.entry.activated.connect(lambda _: self._flare())
        for field in (self.length, self.turn, self.wide, self.deep):
            field.entered.connect(lambda _, field=field: self._ask(field.is_stepping))
            field.refused.connect(say)

    def _place(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        self._groups = [Figures() for _ in range(4)]
        shape, slot, turned, entry = self._groups
        shape.add_field("Section", self.shape)
        slot.add_field("Length", self.length, "Over its round ends; its width is the diameter above")
        turned.add_field("Turned by", self.turn, TURNED)
        entry.add_field("Entry", self.entry)
        self._sink = Figures()
        self._sink.add_field("Width at the skin", self.wide, "Of a slot and a square it grows by as much on every side")
        self._sink.add_field("Depth", self.deep, "From the skin to where it is as wide as the vent")
        for group in (*self._groups, self._sink):
            column.addWidget(group)

    def show_vent(self, vent: Vent, refusal: str) -> None:
        """Show what it is like now; what was typed and does not fit stays to be read."""
        self._vent = vent
        outline, sink = vent.outline, vent.countersink
        self.setVisible(vent.kind == "vent")
        for box, at in ((self.shape, _place_of(outline.shape)), (self.entry, int(sink is not None))):
            with QSignalBlocker(box):
                box.setCurrentIndex(at)
        _, slot, turned, _ = self._groups
        slot.setVisible(outline.shape == "slot")
        turned.setVisible(not outline.is_round)
        self._sink.setVisible(sink is not None)
        for field, value in (
            (self.length, outline.length_mm),
            (self.turn, round(self._turn(vent), 1) + 0.0),
            (self.wide, 0.0 if sink is None else sink.width_mm),
            (self.deep, 0.0 if sink is None else sink.depth_mm),
        ):
            if not (refusal and field.hasFocus()):
                field.show_value(value)
        if sink is not None:
            angle = f"{sink.angle_deg(vent.radius_mm):.0f}° between its sides"
            self.wide.setToolTip(angle)
            self.deep.setToolTip(angle)

    def _turn(self, vent: Vent) -> float:
        """Degrees from the level, as the part hangs."""
        state = self._session.state
        if state is None or vent.outline.is_round:
            return 0.0
        frame = BuildFrame.of(state.solid, state.pose)
        x, y, z = frame.direction_to_build(np.asarray(vent.outline.along)).tolist()
        outwards = -frame.direction_to_build(np.asarray(vent.axis))
        return turn_of(Outline(vent.outline.shape, vent.outline.length_mm, (x, y, z)), outwards)

    def _reshape(self) -> None:
        """Another shape was chosen: a slot begins level, three times as long as wide."""
        vent = self._vent
        shape = SHAPES[self.shape.currentIndex()][0]
        if vent is not None and shape != vent.outline.shape:
            length = LONGER * vent.diameter_mm if shape == "slot" else 0.0
            outline = ROUND if shape == "round" else Outline(shape, length)
            self._wish(Section(vent.diameter_mm, outline, 0.0, vent.countersink, about=True))

    def _flare(self) -> None:
        vent = self._vent
        if vent is None or (vent.countersink is not None) == bool(self.entry.currentIndex()):
            return
        sink = None
        if self.entry.currentIndex():
            deep = max(round(DEEP * vent.wall_mm, 1), LEAST_DEPTH_MM)
            sink = Countersink(round(WIDER * vent.diameter_mm, 1), deep)
        self._wish(Section(vent.diameter_mm, vent.outline, self._turn(vent), sink, about=True))

    def _ask(self, stepping: bool) -> None:
        vent = self._vent
        if vent is None:
            return
        outline = vent.outline
        if outline.shape == "slot":
            outline = Outline("slot", self.length.value)
        sink = None if vent.countersink is None else Countersink(self.wide.value, self.deep.value)
        self._wish(Section(vent.diameter_mm, outline, self.turn.value, sink), stepping)

    def _wish(self, section: Section, stepping: bool = False) -> None:
        try:
            section.check()
        except ParameterError as error:
            self._say(sentence(str(error)))
            if self._vent is not None:
                self.show_vent(self._vent, "")
            return
        self._say("")
        self._session.set_section(self._word, section, stepping)


def _place_of(shape: str) -> int:
    return [name for name, _ in SHAPES].index(cast("Shape", shape))


def _above(low: float, high: float) -> Callable[[float], float]:
    def check(value: float) -> float:
        if not low <= value <= high:
            raise ParameterError(f"{value:g} is out of range.", f"Give {low:g} to {high:g}.")
        return value

    return check
