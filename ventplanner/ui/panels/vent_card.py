"""The cards of a proposed and of an accepted vent."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtWidgets import QPushButton

from ventplanner import parameters as p
from ventplanner.errors import ParameterError
from ventplanner.geometry.pose import Pose
from ventplanner.plan.model import Vent
from ventplanner.ui.angles import axis_of, slope_and_heading
from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Figures, NumberField, button, label, row
from ventplanner.ui.panels.needs import Needs
from ventplanner.ui.panels.places import Places
from ventplanner.ui.panels.printed_piece import VentPrinted
from ventplanner.ui.panels.rows import state_of_cup
from ventplanner.ui.panels.section_fields import SectionFields
from ventplanner.ui.selection import vent as find
from ventplanner.ui.units import sentence
from ventplanner.ui.words import mm

if TYPE_CHECKING:
    from ventplanner.ui.picture import ShownVent
    from ventplanner.ui.session import Session


DOES_NOT_FIT = "That does not fit"


POINTS = "Points to: 0° is right, 90° is back, seen from the front of the standing part."
UNSIZED = "How wide it must be is still being worked out; accepted now, it stays as wide as it is."
NOT_NEEDED = "Its cup breathes already through the accepted vents: this would be one more opening for it."

UPRIGHT = 0.05
"""A vent this near to upright, in degrees, points to no side."""

BEYOND = "Beyond the wall follows the diameter until it is typed."


class FiguredCard(Card):
    """A vent whose figures can be typed, accepted or proposed. word: what it is called by a selection."""

    def __init__(self, session: Session, word: str, heading: Heading) -> None:
        super().__init__(session)
        self._word = word
        self._heading = heading
        self._asked_width: float | None = None
        self._fields = Figures()
        self._figures = Figures()
        self.diameter = NumberField("Diameter", "mm", 0.1, diameter_checked, self)
        self.slope = NumberField("Rises inwards by", "°", 5.0, _angle(-90.0, 90.0), self)
        self.heading = NumberField("Points to", "°", 5.0, _angle(-360.0, 360.0), self)
        self.beyond = NumberField("Beyond the wall", "mm", 0.1, _depth, self)
        self.section = SectionFields(session, word, self.say)
        self._wrong = label("", "wrong", wrap=True)
        self._why = label("", wrap=True, select=True)
        self.needs = Needs(session, word)
        self.places = Places(session, word)
        self._connect()

    def _connect(self) -> None:
        add = self._fields.add_field
        add("Diameter", self.diameter, sentence(p.DIAMETER_MM.range_text))
        add("Rises inwards by", self.slope, "0° drills along the layers")
        add("Points to", self.heading, POINTS)
        add(
            "Beyond the wall",
            self.beyond,
            "How far the drill goes on behind the inner skin, so that its whole rim comes through",
        )
        self.diameter.entered.connect(self._resize)
        self.beyond.entered.connect(self._deepen)
        self.slope.entered.connect(lambda _: self._turn(self.slope.value, self.heading.value))
        self.heading.entered.connect(lambda _: self._turn(self.slope.value, self.heading.value))
        for field in (self.diameter, self.beyond, self.slope, self.heading):
            field.refused.connect(self.say)
        self._wrong.hide()
        self.needs.heir = self.diameter

    def _place(self, left: QPushButton, right: QPushButton) -> None:
        """Fields first, then the answers: both cards have them at the same place, and nothing above them changes."""
        self.column.addWidget(self._heading)
        self.column.addWidget(self._fields)
        self.column.addWidget(self.section)
        self.column.addSpacing(4)
        line = row(left)
        line.addWidget(right)  # apart: a click meant for the left one does not meet this one
        self.column.addLayout(line)
        self.column.addWidget(self._wrong)
        self.column.addSpacing(4)

    def _show(self, vent: Vent) -> None:
        slope, heading = slope_and_heading(vent.axis, _pose(self.session))
        refusal = self.session.drag_refusal
        self._show_width(vent.diameter_mm, refusal)
        self.section.show_vent(vent, refusal)
        self.beyond.show_value(vent.beyond_mm)
        self.slope.show_value(round(slope, 1) + 0.0)
        self.heading.show_value(round(heading, 1) + 0.0)
        if abs(slope) > 90.0 - UPRIGHT:
            self.heading.show_none("An upright vent points to no side.")
        _show_common(self.session, self._figures, vent)
        self._why.setText(_sentence(vent.reason))
        self.needs.show_vent(vent)
        self.places.refresh()
        if refusal:
            self.say(f"{DOES_NOT_FIT}: {sentence(refusal)}.")
        elif self._wrong.text().startswith(DOES_NOT_FIT):
            self.say("")

    def _show_width(self, width: float, refusal: str) -> None:
        """The diameter; or what was typed, as long as it is being fitted, and when it does not fit."""
        asked = self._asked_width
        if asked is not None and abs(asked - width) > 1e-9 and (refusal or not self.session.is_settled):
            if refusal:
                self.diameter.show_refused(width, sentence(refusal))
            return
        self._asked_width = None
        self.diameter.show_value(width)

    def say(self, why: str) -> None:
        """Show why something was refused; "" for nothing."""
        self._wrong.setText(why)
        self._wrong.setVisible(bool(why))

    def _edit(self, do: Callable[[], object]) -> None:
        self.say("")
        do()

    def _resize(self, mm: float) -> None:
        self._asked_width = mm
        self._edit(lambda: self.session.set_diameter(self._word, mm, self.diameter.is_stepping))

    def _deepen(self, mm: float) -> None:
        self._edit(lambda: self.session.set_depth(self._word, mm, self.beyond.is_stepping))

    def _turn(self, slope: float, heading: float) -> None:
        axis = axis_of(slope, heading, _pose(self.session))
        stepping = self.slope.is_stepping or self.heading.is_stepping
        self._edit(lambda: self.session.set_axis(self._word, axis, stepping))


class ProposalCard(FiguredCard):
    """A proposed vent: where, why, and the two answers to it; a figure that is typed accepts it with that figure."""

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session, f"proposal {name}", Heading("Proposed vent", f"Vent {name}"))
        self.accept = button("Accept", lambda: session.accept(name), "primary", tip="Return")
        self.aside = button("Set aside", lambda: session.set_aside_proposal(name), tip="X")
        self._place(self.accept, self.aside)
        for widget in (self._why, self._figures, self.places, self.needs):
            self.column.addWidget(widget)
        self.column.addSpacing(4)
        how = "Type a figure, and the vent is accepted with it. Drag it along the skin to put it elsewhere."
        self.column.addWidget(label(f"{how} {POINTS}", "muted", wrap=True))
        self.column.addStretch(1)

    def refresh(self) -> bool:
        """Show how things are now."""
        vent = find(self.session, self._word)
        if vent is None:
            return False
        self._heading.pill.show_state("proposed", "proposed")
        self._show(vent)
        if _breathes_already(self.session, vent):
            self._why.setText(f"{NOT_NEEDED} {self._why.text()}")
        if self.session.is_sizing and self.session.size_of(vent.id) is None:
            self._why.setText(f"{self._why.text()} {UNSIZED}")
        return True


class VentCard(FiguredCard):
    """An accepted vent."""

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session, f"vent {name}", Heading("Vent", f"Vent {name}"))
        self.remove = button("Remove", lambda: session.remove(name), tip="Delete")
        self.level = button("Lay it level", self._level, tip="Drill along the layers")
        self.printed = VentPrinted(session, self._word)
        self._place(self.level, self.remove)
        for widget in (self._figures, self._why, self.places, self.printed, self.needs):
            self.column.addWidget(widget)
        self.column.addSpacing(4)
        self.column.addWidget(label(f"{POINTS} {BEYOND}", "muted", wrap=True))
        self.column.addStretch(1)

    def refresh(self) -> bool:
        """Show how things are now."""
        vent = find(self.session, self._word)
        if vent is None:
            return False
        self._heading.pill.show_state("accepted", "accepted")
        self._show(vent)
        self.printed.refresh()
        self.level.setEnabled(abs(self.slope.value) > 0.05)
        return True

    def _level(self) -> None:
        self._turn(0.0, self.heading.value)


def _show_common(session: Session, figures: Figures, vent: Vent) -> None:
    """The figures of a vent that follow from its place."""
    figures.put("Through the wall", mm(vent.wall_mm))
    height = next((v.entry[2] for v in _shown(session) if v.word.endswith(f" {vent.id}")), None)
    if height is not None:
        figures.put("Height on the part", mm(height), "Build height of its middle on the outer skin")
    start = _start_of(session, vent)
    if start is not None and height is not None:
        figures.put("Cup starts at", mm(start))
    figures.put("Into", f"cavity {vent.cavity}" + (f", cup {vent.cup}" if vent.cup else ""))


def _breathes_already(session: Session, vent: Vent) -> bool:
    """Whether the cup of a proposal breathes with the accepted vents, and would not without them."""
    for cavity in () if session.findings is None else session.findings.cavities:
        for number, found in enumerate(cavity.cups):
            if found.id == vent.cup and found.state != "breathing" and session.preview is not None:
                return state_of_cup(session, cavity, number) == "breathing"
    return False


def _shown(session: Session) -> tuple[ShownVent, ...]:
    return () if session.picture is None else session.picture.vents


def _start_of(session: Session, vent: Vent) -> float | None:
    for cavity in () if session.findings is None else session.findings.cavities:
        for found in cavity.cups:
            if found.id == vent.cup:
                return float(found.cup.from_height)
    return None


def _pose(session: Session) -> Pose:
    return Pose() if session.state is None else session.state.pose


def _sentence(text: str) -> str:
    """A reason as a sentence."""
    text = sentence(text.strip())
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}" if text else ""


def _angle(low: float, high: float) -> Callable[[float], float]:
    def check(value: float) -> float:
        if not low <= value <= high:
            raise ParameterError(f"An angle of {value:g}° is out of range.", f"Give {low:g}° to {high:g}°.")
        return value

    return check


def diameter_checked(value: float) -> float:
    """A typed diameter in mm; ParameterError out of range."""
    try:
        return p.DIAMETER_MM.check(value)
    except ParameterError as error:
        raise ParameterError(f"A vent cannot be {value:g} mm wide.", f"Give {p.DIAMETER_MM.range_text}.") from error


def _depth(value: float) -> float:
    if not np.isfinite(value) or value < 0:
        raise ParameterError(f"A vent cannot end {value:g} mm beyond the wall.", "Give 0 mm or more.")
    return value
