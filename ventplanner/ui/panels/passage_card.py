"""The cards of a passage inside the part, offered or accepted; of one in hand as it fits at the moment."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from ventplanner.app.joining import named
from ventplanner.geometry.pose import BuildFrame
from ventplanner.plan.model import Passage
from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Figures, NumberField, button, label, row
from ventplanner.ui.panels.vent_card import DOES_NOT_FIT, diameter_checked
from ventplanner.ui.units import diameter, sentence
from ventplanner.ui.words import mm, place

if TYPE_CHECKING:
    from ventplanner.flow.sizing import Size
    from ventplanner.ui.session import Session

INSIDE = "It stays inside the part: nothing of it is seen, and no drill reaches it afterwards."
AS_FOUND = "With another diameter or place once it is accepted."
HOW_TO_MOVE = "Drag an end, the knee or the middle of it in the view; its ends stay on the walls of hollows."


class JoiningCard(Card):
    """A passage that is offered: from where to where, and the two answers to it."""

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session)
        self._name = name
        self._heading = Heading("Proposed passage", f"Passage {name}")
        self._figures = Figures()
        self._why = label("", wrap=True, select=True)
        self.accept = button("Accept", lambda: session.join(name), "primary", tip="Return")
        self.aside = button("Set aside", lambda: session.set_join_aside(name), tip="X")
        self.column.addWidget(self._heading)
        line = row(self.accept)
        line.addWidget(self.aside)
        self.column.addLayout(line)
        self._seen = label("", "muted", wrap=True)
        for widget in (self._why, self._figures, self._seen):
            self.column.addWidget(widget)
        self.column.addStretch(1)

    def refresh(self) -> bool:
        """Show how things are now."""
        passage = named(self.session.joins, self._name)
        if passage is None:
            return False
        self._heading.pill.show_state("proposed", "proposed")
        self._why.setText(sentence(passage.reason))
        self._seen.setText(f"{what_is_seen(passage)} {AS_FOUND}")
        show_figures(self.session, self._figures, passage, with_width=True)
        return True


class PassageCard(Card):
    """An accepted passage."""

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session)
        self._name = name
        self._heading = Heading("Passage", f"Passage {name}")
        self._fields, self._figures = Figures(), Figures()
        self.diameter = NumberField("Diameter", "mm", 0.1, diameter_checked, self)
        self._fields.add_field("Diameter", self.diameter, "Along the same axis, if the material round it allows that")
        self._wrong = label("", "wrong", wrap=True)
        self._wrong.hide()
        self._why = label("", wrap=True, select=True)
        self.remove = button("Remove", lambda: session.remove_passage(name), tip="Delete")
        self.diameter.entered.connect(lambda width: session.set_passage_width(name, width))
        self.diameter.refused.connect(self._say)
        self.column.addWidget(self._heading)
        self.column.addWidget(self._fields)
        self.column.addLayout(row(self.remove))
        self._seen, self._asked = label("", "muted", wrap=True), label("", wrap=True)
        self.by_need = button("As wide as asked", self._take_asked)
        self.column.addWidget(self._asked)
        self.column.addLayout(row(self.by_need))
        for widget in (self._wrong, self._figures, self._why, self._seen):
            self.column.addWidget(widget)
        self.column.addStretch(1)

    def refresh(self) -> bool:
        """Show how things are now."""
        passage, trial = named(self.session.plan.passages, self._name), self.session.passage_in_hand
        if passage is None:
            return False
        if trial is not None and trial.name == self._name and trial.passage is not None:
            passage = trial.passage
        self._heading.pill.show_state("accepted", "accepted")
        self.diameter.show_value(passage.diameter_mm)
        self._why.setText(sentence(passage.reason))
        self._seen.setText(f"{what_is_seen(passage)} {HOW_TO_MOVE}")
        self._show_asked(passage)
        show_figures(self.session, self._figures, passage, with_width=False)
        refusal = self.session.passage_refusal
        if refusal is not None and refusal[0] == self._name:
            self.diameter.show_refused(passage.diameter_mm, sentence(refusal[2]))
            self._say(sentence(f"{DOES_NOT_FIT}: {refusal[2]}."))
        elif trial is not None and trial.name == self._name and trial.refusal:
            self._say(sentence(f"{DOES_NOT_FIT}: {trial.refusal}."))
        else:
            # Such as that it cuts a surface that was marked later, or that a support stands in its way.
            self._say(" ".join(sentence(x.text) for x in self.session.left if x.target == f"passage {self._name}"))
        return True

    def _show_asked(self, passage: Passage) -> None:
        """How wide the limits want it, once that is known."""
        size = self._size()
        need = None if size is None else size.binding
        self._asked.setText("" if size is None or need is None else sentence(asked_of(passage, size)))
        self._asked.setVisible(size is not None)
        helps = size is not None and math.isfinite(size.diameter)
        self.by_need.setVisible(helps and size is not None and abs(size.diameter - passage.diameter_mm) > 0.05)

    def _size(self) -> Size | None:
        found = self.session.breathing if self.session.is_flow_known else None
        return None if found is None else found.sizes.get(self._name)

    def _take_asked(self) -> None:
        size = self._size()
        if size is not None:
            self.session.set_passage_width(self._name, size.diameter)

    def _say(self, why: str) -> None:
        self._wrong.setText(why)
        self._wrong.setVisible(bool(why))


def what_is_seen(passage: Passage) -> str:
    """What of a passage is seen outside."""
    if passage.outer is None:
        return INSIDE
    at = place(passage.outer.entry_mm)
    return f"An extra hole is seen at {at}: one straight drill goes through {passage.to} into {passage.cavity}."


def asked_of(passage: Passage, size: Size) -> str:
    """What the limits ask of the width of a passage, as a sentence."""
    if math.isinf(size.diameter):
        return f"No width of it keeps the limits: {size.binding.why}."
    verb = "is enough" if size.diameter <= passage.diameter_mm + 0.05 else "is asked for"
    return f"{size.diameter:g} mm {verb}: {size.binding.why}."


def show_figures(session: Session, figures: Figures, passage: Passage, *, with_width: bool) -> None:
    """What follows from where a passage runs."""
    if with_width:
        figures.put("Diameter", diameter(passage.diameter_mm))
    figures.put("From", f"cavity {passage.cavity}" + (f", cup {passage.cup}" if passage.cup else ""))
    figures.put("To", f"cavity {passage.to}")
    figures.put("Length", mm(passage.length_mm) + (", in two straight legs" if len(passage.points_mm) > 2 else ""))
    figures.put("Material round it", f"{mm(passage.clearance_mm)} or more")
    slopes = slopes_of(session, passage)
    figures.put("Slope as it hangs", " and ".join(f"{slope:.0f}°" for slope in slopes), "0° is along the layers")


def slopes_of(session: Session, passage: Passage) -> list[float]:
    """How much each leg rises or sinks from the layers, degrees."""
    state = session.state
    if state is None:
        return []
    frame = BuildFrame.of(state.solid, state.pose) if session.findings is None else session.findings.scene.frame
    legs = np.diff(frame.to_build(np.array(passage.points_mm)), axis=0)
    return [abs(math.degrees(math.asin(np.clip(z / math.hypot(x, y, z), -1.0, 1.0)))) for x, y, z in legs.tolist()]
