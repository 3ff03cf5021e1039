"""Which condition asks a vent to be how wide, what speeds go with it, and whether its cavity empties by itself."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QGridLayout, QWidget

from ventplanner.ui.panels.fields import Figures, button, row
from ventplanner.ui.panels.suction import COMING, Block, Sign, figure
from ventplanner.ui.units import diameter

if TYPE_CHECKING:
    from ventplanner.app.breathing import Breathing, Demand
    from ventplanner.flow.sizing import Size
    from ventplanner.plan.model import Vent
    from ventplanner.ui.session import Session

CONDITIONS = {"suction": "suction", "overpressure": "way down", "prints open": "prints open"}


class Needs(Block):
    """word: what the vent is called by a selection, "vent 3" or "proposal 3"."""

    def __init__(self, session: Session, word: str) -> None:
        super().__init__(session, "How wide it must be, an estimate")
        self._word = word
        self._vent: Vent | None = None

    def show_vent(self, vent: Vent) -> None:
        """Show what is asked of this vent now."""
        self._vent = vent
        self.refresh(vent, self.session.plan, self._size())

    def _size(self) -> Size | None:
        """Of a proposal; that of an accepted vent comes with the flow."""
        kind, _, name = self._word.partition(" ")
        return self.session.size_of(name) if kind == "proposal" else None

    def _fill(self, found: Breathing) -> None:
        if self._vent is None:
            return
        from ventplanner.app.breathing import demand

        asked = demand(found, self.session.plan, self._vent, self._size())
        if asked is None:
            self.add_sentences([COMING])
            return
        self.column.addWidget(_list(asked))
        self._offer_width(asked)
        self._tell_speeds(asked)
        why = asked.size.binding.why
        self.add_sentences([f"{why[:1].upper()}{why[1:]}.", asked.empties.advice])

    def _offer_width(self, asked: Demand) -> None:
        wide = asked.size.diameter
        if asked.is_wide_enough:
            return
        if math.isinf(wide):
            self.add_sentences(["No width will do: lift more slowly, or make one more vent nearer the start."])
            return
        verb = "Make" if self._word.startswith("vent") else "Accept"
        do = partial(self.session.set_diameter, self._word, wide)
        self.column.addLayout(row(button(f"{verb} it {diameter(wide)} wide", do)))

    def _tell_speeds(self, asked: Demand) -> None:
        from ventplanner.app.suction import is_any, speed

        speeds = Figures()
        for name, most in (("Lift at most", asked.size.lift_speed), ("Lower at most", asked.size.lower_speed)):
            told = "any speed" if is_any(most) else speed(most) if most > 0.0 else "no speed will do"
            speeds.put(name, told, "The limit of the profile is kept then")
        self.column.addWidget(speeds)


def _list(asked: Demand) -> QWidget:
    """A line for each condition: tick or cross, its name, the diameter that it asks for; the binding one is first."""
    inside = QWidget()
    grid = QGridLayout(inside)
    grid.setContentsMargins(0, 2, 0, 2)
    grid.setHorizontalSpacing(10)
    grid.setVerticalSpacing(3)
    grid.setColumnStretch(0, 1)
    for line, need in enumerate(asked.size.needs):
        fits = asked.diameter >= need.diameter - 1e-9
        name = CONDITIONS[need.condition]
        word = f"{name}, binds" if line == 0 else name
        sign = Sign()
        sign.say(fits, word)
        text = _least(need.diameter)
        shown = figure(name, text, f"{word}: {'satisfied' if fits else 'not satisfied'}, asks for")
        for widget in (sign, shown):
            font = widget.font()
            font.setWeight(font.Weight.DemiBold if line == 0 else font.Weight.Normal)
            widget.setFont(font)
        grid.addWidget(sign, line, 0)
        grid.addWidget(shown, line, 1)
    return inside


def _least(wide: float) -> str:
    if math.isinf(wide):
        return "none will do"
    return f"≥ {diameter(math.ceil(20 * wide - 1e-9) / 20)}" if wide > 0.0 else "any width"
