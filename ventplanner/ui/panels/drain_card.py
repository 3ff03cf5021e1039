"""The card of draining: the pour plan step by step, what is left at the end, and why."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QPushButton, QVBoxLayout

from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Figures, button, clear, label, row
from ventplanner.ui.units import sentence, system

if TYPE_CHECKING:
    from ventplanner.app.holding import Held
    from ventplanner.app.pouring import Poured
    from ventplanner.ui.draining import Draining
    from ventplanner.ui.session import Session

WORKING = "Working out how to hold and turn it, so that as little as possible stays in it…"
AGAIN = "The plan, the pose or the resin has changed: it is worked out anew…"
GIVEN_UP = "It was not worked out."
ABOUT = "From hollows full of resin, hanging on the plate. Estimates: wait until nothing drips any more."
LEAST_MM3 = 5.0
LOOKING = "Looking for a vent, moved or added, that would bring out more…"
NO_HELP = "No single vent, moved or added, was found that would bring out half of what stays in a cavity."


class DrainCard(Card):
    """`mode` knows which step is shown, and shows another."""

    def __init__(self, session: Session, mode: Draining) -> None:
        super().__init__(session)
        self._mode = mode
        self._shown: tuple[object, ...] = ()
        self._knew = False
        self.heading = Heading("After the print", "Drain the part")
        self.told = label("", "muted", wrap=True)
        self.begin = button("Work it out", lambda: session.watch_pour(True), "primary")
        self.before = button("Move before", partial(mode.go, -1), tip="Shift+M")
        self.next = button("Next move", partial(mode.go, 1), tip="M")
        self.moves: list[QPushButton] = []
        self.helps: list[QPushButton] = []
        self.hold = button("Hold it like this", mode.hold, tip="Turn the view until down is down, then Shift+D")
        self.fill = button("Fill it again", mode.fill, tip="Hollows full of resin, with the part held as it is now")
        self._list, self._why, self._hand = QVBoxLayout(), QVBoxLayout(), QVBoxLayout()
        for column in (self._list, self._why, self._hand):
            column.setSpacing(4)
        self.figures = Figures()
        self.column.addWidget(self.heading)
        self.column.addWidget(self.told)
        self.column.addLayout(row(self.begin))
        self.column.addLayout(row(self.next, self.before))
        self.column.addLayout(row(self.hold, self.fill))
        self.column.addLayout(self._hand)
        self.column.addLayout(self._list)
        self.column.addSpacing(6)
        self.column.addWidget(self.figures)
        self.column.addLayout(self._why)
        self.leave = button("Back to the part", mode.end, tip="D")
        self.column.addLayout(row(self.leave))
        self.column.addStretch(1)

    def refresh(self) -> bool:
        """Show the plan as far as it is known; gone with the mode."""
        if not self._mode.is_on:
            return False
        poured, given_up = self.session.poured, self.session.is_pour_given_up
        held = self.session.held
        key = (poured, given_up, self._mode.at, system(), self.session.helps, self.session.is_help_coming, held)
        if key == self._shown:
            return True
        self._shown = key
        self._knew = self._knew or poured is not None
        count = 0 if poured is None else len(poured.scenes)
        self.told.setText(ABOUT if poured is not None else GIVEN_UP if given_up else AGAIN if self._knew else WORKING)
        self.begin.setVisible(given_up and poured is None)
        for each, by in ((self.before, -1), (self.next, 1)):
            each.setVisible(count > 0)
            each.setEnabled(0 <= self._mode.at + by < count)
        for each in (self.hold, self.fill):
            each.setVisible(count > 0)
        self.figures.setVisible(count > 0)
        focused = next((k for k, move in enumerate(self.moves) if move.hasFocus()), -1)
        was_helping = any(each.hasFocus() for each in self.helps)
        for column in (self._list, self._why, self._hand):
            clear(column)
        self.moves, self.helps = [], []
        if held is not None:
            self._show_held(held)
        if poured is not None:
            self._show(poured)
            if 0 <= focused < len(self.moves):
                self.moves[focused].setFocus()
            if was_helping and self.helps:
                self.helps[0].setFocus()
        return True

    def is_told(self, held: Held) -> bool:
        """Whether the card shows this."""
        return held in self._shown

    def _show_held(self, held: Held) -> None:
        """The pose that the user chose: what ran, and the pools."""
        from ventplanner.app.holding import told_of

        for text in told_of(held, self.session.plan):
            self._hand.addWidget(label(sentence(text), wrap=True, select=True))

    def _show(self, poured: Poured) -> None:
        from ventplanner.app.draining import lasts, ml, move, reason, where

        done = poured.done
        for n, step in enumerate(done.steps):
            here = n == self._mode.at and not self._mode.is_by_hand
            name = f"{n + 1} of {len(done.steps)}"
            choice = button(f"✓ {name}, shown" if here else f"Show {name}", partial(self._mode.take, n), "quiet")
            choice.setAccessibleName(f"Move {name}{', shown' if here else ''}: {move(done, n)}")
            self.moves.append(choice)
            self._list.addLayout(row(choice))
            ran = (
                f"Runs out: {', '.join(where(one, self.session.plan) for one in step.ran)}."
                if step.ran
                else "Nothing runs out."
            )
            self._list.addWidget(label(sentence(move(done, n)), wrap=True, select=True))
            text = f"{lasts(step).capitalize()}. {ran} Then {ml(step.left)} in the part."
            self._list.addWidget(label(sentence(text), "muted", wrap=True, select=True))
        self.figures.put("Hollows hold", ml(done.full))
        self.figures.put("Stays in pools", ml(done.left))
        self.figures.put("Film on the walls", f"about {ml(done.film)}")
        self.figures.put("At most in all", ml(done.at_most), "If a drop hangs in every hole, and nothing is shaken out")
        for left in done.left_where:
            if left.volume >= LEAST_MM3:
                place = f"Cavity {left.cavity}" if left.cavity else "Outside"
                text = f"{place} keeps {ml(left.volume)}. {reason(left, self.session.plan)}"
                self._why.addWidget(label(sentence(text), wrap=True, select=True))
        self._show_helps(poured)
        if poured.advice:
            self._why.addSpacing(6)
            self._why.addWidget(label("Rinse and cure", "heading"))
        for advice in poured.advice:
            self._why.addWidget(label(sentence(advice), wrap=True, select=True))
        for note in done.notes:
            self._why.addWidget(label(sentence(note), "muted", wrap=True, select=True))

    def _show_helps(self, poured: Poured) -> None:
        """What would bring out what stays: to be asked for, on its way, or one sentence and one button each."""
        from ventplanner.app.helping import is_worth_help

        if not is_worth_help(poured.done, self.session.plan):
            return
        helps = self.session.helps
        if self.session.is_help_coming:
            self._why.addWidget(label(LOOKING, "muted", wrap=True))
        elif helps is None:
            self._offer("What would help?", self.session.look_for_help)
        elif not helps:
            self._why.addWidget(label(NO_HELP, "muted", wrap=True))
        for each in helps or ():
            self._why.addWidget(label(sentence(each.text), wrap=True, select=True))
            self._offer(each.deed, partial(self.session.take_help, each))

    def _offer(self, text: str, do: Callable[[], object]) -> None:
        self.helps.append(button(text, do))
        self._why.addLayout(row(self.helps[-1]))
