"""The part of a card that tells how a vent, a cavity's openings or its cups print."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from ventplanner.plan.model import Vent
from ventplanner.ui.panels.fields import Figures, button, label, restyle, row
from ventplanner.ui.selection import vent as find
from ventplanner.ui.units import diameter, sentence
from ventplanner.ui.words import STATE_WORDS, mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ventplanner.app.printing import Printed, WayOut
    from ventplanner.printed.model import PrintedCup, PrintedOpening
    from ventplanner.ui.session import Session

MOST_OPENINGS = 6
"""More openings of a cavity are counted, the narrowest first told."""

NOT_YET, AWAITED = "How it prints has not been checked.", "How it prints is being worked out…"


class PrintedPiece(QWidget):
    """A heading, what is known, the way out, and what it rests on; or a button that works it out."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.heading = label("As printed", "heading")
        self.told = label("", wrap=True, select=True)
        self.figures = Figures()
        self.check = button("Check as printed", session.check_printed, tip="Shift+A")
        self.note = label("", "muted", wrap=True)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 6, 0, 4)
        self.column.setSpacing(6)
        for widget in (self.heading, self.told, self.figures):
            self.column.addWidget(widget)
        self.column.addWidget(self.check, 0, Qt.AlignmentFlag.AlignLeft)
        self.column.addWidget(self.note)

    def refresh(self) -> None:
        """Show what is known now."""
        session = self.session
        printed = session.printed
        known = printed is not None
        self.check.setVisible(not known and not session.is_printed_awaited and not session.stale)
        self.figures.setVisible(known)
        self.note.setVisible(known)
        self.note.setText(f"Estimates that rest on the profile “{session.profile.name}”.")
        if printed is None:
            self.say(AWAITED if session.is_printed_awaited else NOT_YET, "muted")
            return
        self.show_printed(printed)

    def say(self, text: str, role: str = "") -> None:
        """What is told in words; "" hides it."""
        self.told.setText(text)
        self.told.setVisible(bool(text))
        restyle(self.told, "role", role)

    def show_printed(self, printed: Printed) -> None:
        """Show what becomes of it."""
        raise NotImplementedError


class VentPrinted(PrintedPiece):
    """Of an accepted vent."""

    def __init__(self, session: Session, word: str) -> None:
        super().__init__(session)
        self._word = word
        self._sizes = [0.0, 0.0]
        self.take, self.take_wider = button("", partial(self._take, 0)), button("", partial(self._take, 1))
        self.more = label("", wrap=True, select=True)
        self._make = label("Make it", "muted")
        self.column.insertWidget(2, self.more)
        self.column.insertLayout(4, row(self._make, self.take, self.take_wider))

    def refresh(self) -> None:
        """Show what is known now."""
        for widget in (self.more, self._make, self.take, self.take_wider):
            widget.hide()
        super().refresh()

    def show_printed(self, printed: Printed) -> None:
        """How wide it prints, and what took how much; closed, what would print open."""
        vent = find(self.session, self._word)
        opening = None if vent is None else printed.of(vent)
        if vent is None or opening is None:
            self.say(NOT_YET, "muted")
            return
        self.say(prints(opening) if opening.open else closed(opening), "" if opening.open else "bad")
        if not opening.open:
            self.more.setText(f"{_taken(opening)} {self._offer(vent, self.session.way_out(vent))}".strip())
            self.more.show()

    def _offer(self, vent: Vent, way: WayOut | None) -> str:
        """The ways out in words; sizes get their buttons."""
        if way is None:
            return "A size that prints open is being looked for…" if self.session.is_way_out_awaited else ""
        told = "Nor does a much wider one print open there." if way.opens_mm is None else ""
        if way.opens_mm is not None:
            wide = f", {way.as_asked_mm:.1f} mm print {vent.diameter_mm:.1f} mm wide" if way.as_asked_mm else ""
            told = f"{way.opens_mm:.1f} mm would just print open{wide}."
        if way.higher_mm is not None:
            told += f" Put {way.higher_mm:.1f} mm higher, it is clear of the base layers."
        for at, (made, size) in enumerate(((self.take, way.opens_mm), (self.take_wider, way.as_asked_mm))):
            if size is not None:
                self._sizes[at] = size
                made.setText(diameter(size))
                made.setAccessibleName(f"Make vent {vent.id} {diameter(size)} wide")
                made.show()
                self._make.show()
        return sentence(told)

    def _take(self, at: int) -> None:
        self.session.set_diameter(self._word, self._sizes[at], False)


class CavityPrinted(PrintedPiece):
    """Of a cavity: its openings and its cups, in the model and as printed. cup: only this one of them."""

    def __init__(self, session: Session, cavity: str, cup: str = "") -> None:
        super().__init__(session)
        self._cavity, self._cup = cavity, cup

    def show_printed(self, printed: Printed) -> None:
        """Each opening with its width, and each cup with both states."""
        self.column.removeWidget(self.figures)
        self.figures.hide()
        self.figures.deleteLater()
        self.figures = Figures()
        self.column.insertWidget(2, self.figures)
        cups = [c for c in printed.cups(self._cavity) if self._cup in ("", c.cup)]
        for cup in cups:
            who = f"Cup {cup.cup}" if cup.cup else "Only as printed"
            self.figures.put(who, states(cup), "In the model, then as printed")
        openings = () if self._cup else printed.openings(self._cavity)
        for at, opening in enumerate(sorted(openings, key=lambda o: o.printed_mm)[:MOST_OPENINGS]):
            self.figures.put(f"Opening {at + 1}, {mm(opening.nominal_mm)}", prints(opening))
        more = len(openings) - MOST_OPENINGS
        self.figures.put("More openings", f"{more}, which print wider" if more > 0 else "")
        worse = [c for c in cups if c.nominal == "breathing" and c.printed != "breathing"]
        self.say(_worse(worse), "bad" if worse else "")


def prints(opening: PrintedOpening) -> str:
    """How wide an opening prints, and which cause took how much."""
    if not opening.open:
        return f"{closed(opening)} {_taken(opening)}".strip()
    causes = _causes(opening)
    took = f": {causes}" if causes else ""
    least = "" if opening.exact else "at least "
    return sentence(f"Prints {least}{opening.printed_mm:.1f} mm of {opening.nominal_mm:.1f} mm{took}.")


def closed(opening: PrintedOpening) -> str:
    """That an opening prints closed, and the main cause."""
    return f"Prints closed ({opening.cause})." if opening.cause else "Prints closed."


def _taken(opening: PrintedOpening) -> str:
    causes = _causes(opening)
    return sentence(f"Of {opening.nominal_mm:.1f} mm was taken: {causes}.") if causes else ""


def _causes(opening: PrintedOpening) -> str:
    from ventplanner.app.printing import told_causes  # loads the engine, which the start does not wait for

    return ", ".join(f"{cause} {taken:.2f} mm" for cause, taken in told_causes(opening))


def states(cup: PrintedCup) -> str:
    """A cup in the model and as printed, side by side."""
    low = "" if cup.from_mm is None or cup.printed == "breathing" else f" from {mm(cup.from_mm)}"
    return f"model: {STATE_WORDS[cup.nominal]}; as printed: {STATE_WORDS[cup.printed]}{low}"


def _worse(cups: Sequence[PrintedCup]) -> str:
    if not cups:
        return ""
    names = [c.cup for c in cups if c.cup]
    who = (
        f"Cup {names[0]} breathes"
        if len(names) == 1
        else f"{len(cups)} cups breathe"
        if len(cups) > 1
        else "It is open"
    )
    return f"{who} in the model, but not as printed."
