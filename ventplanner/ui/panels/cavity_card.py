"""The cards of a cavity and of a cup."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ventplanner.app.routes import in_words
from ventplanner.plan.reached import routes
from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Figures, Line, button, label, row
from ventplanner.ui.panels.openings import OpeningList
from ventplanner.ui.panels.printed_piece import CavityPrinted
from ventplanner.ui.panels.rows import state_of_cup
from ventplanner.ui.panels.suction import Suction
from ventplanner.ui.selection import last_note, left_cup
from ventplanner.ui.units import sentence
from ventplanner.ui.words import STATE_WORDS, area, count, left_words, mm, volume

if TYPE_CHECKING:
    from ventplanner.analysis.cavities import Cavity
    from ventplanner.plan.model import NoVent
    from ventplanner.ui.session import Session


NEW_VENT = "One more vent: right click on its skin, or V where the pointer is."


class CavityCard(Card):
    """What is known about a cavity, and whether it is to be left as it is."""

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session)
        self._name = name
        self._joins_aside = False
        self._heading = Heading("Cavity", f"Cavity {name}")
        self._figures = Figures()
        self._open = label("", wrap=True)
        self._accept = button("Accept all of its vents", self._accept_all)
        self._back = button("Bring back what was set aside", self._bring_back)
        self._again = button("Propose again for it", lambda: session.propose_again(left_cup(session)))
        self._note_label = label("Note", "heading")
        self._note = Line()
        self._note.setPlaceholderText("Why it may stay as it is")
        self._note.setAccessibleName("Why the cavity is left as it is")
        self._note_label.setBuddy(self._note)
        self._leave = button("Leave it as it is", self._leave_alone)
        self._take_up = button("Work on it again", lambda: session.take_up(name))
        self._none = label("", wrap=True, select=True)
        self.printed = CavityPrinted(session, name)
        self.openings = OpeningList(session)
        self._suction = Suction(session, "cavity", name)
        for widget in (self._heading, self._figures, self._open, self._none, self.openings, self.printed):
            self.column.addWidget(widget)
        self.column.addLayout(row(self._accept))
        self.column.addLayout(row(self._back))
        self.column.addLayout(row(self._again))
        self.column.addWidget(label(NEW_VENT, "muted", wrap=True))
        self.column.addWidget(self._suction)
        self.column.addSpacing(10)
        self.column.addWidget(self._note_label)
        self.column.addWidget(self._note)
        self.column.addLayout(row(self._leave, self._take_up))
        self.column.addStretch(1)
        self._note.editingFinished.connect(self._renote)
        self._note.returnPressed.connect(self._leave_alone)

    def refresh(self) -> bool:
        """Show how things are now."""
        cavity = _cavity(self.session, self._name)
        if cavity is None:
            return False
        self._show_state(cavity)
        self._show_figures(cavity)
        proposals = [v for v in self.session.proposals if v.cavity == self._name]
        accepted = [v for v in self.session.plan.vents if v.cavity == self._name]
        aside = [v for v in self.session.set_aside if v.cavity == self._name]
        parts = [f"{len(accepted)} accepted", f"{len(proposals)} proposed", f"{len(aside)} set aside"]
        told = [text for text in parts if not text.startswith("0 ")]
        vents_told = f"Vents: {', '.join(told)}." if told else "No vent leads into it."
        steps = routes(self.session.findings, self.session.plan)[self._name] if self.session.findings else ()
        self._open.setText(f"{vents_told} {in_words(steps)}")
        self._show_missing(cavity, {v.cup for v in (*accepted, *proposals)})
        self._suction.show_now()
        self._accept.setVisible(bool(proposals))
        joins_aside = () if self.session.state is None else self.session.state.passages_aside
        self._joins_aside = any(p.cavity == self._name for p in joins_aside)
        self._back.setVisible(bool(aside) or self._joins_aside)
        self._again.setVisible(not aside and bool(left_cup(self.session)))
        self.printed.refresh()
        return True

    def _show_state(self, cavity: Cavity) -> None:
        notes = dict(self.session.plan.left_alone)
        left = self._name in notes
        state = _state_now(self.session, cavity)
        if left:
            shown = () if self.session.picture is None else self.session.picture.cavities
            words = next((left_words(c) for c in shown if c.id == self._name), "left as it is")
            self._heading.pill.show_state("left", words)
        else:
            self._heading.pill.show_state(state, STATE_WORDS[state])
        if not self._note.hasFocus():
            self._note.setText(notes.get(self._name, "") if left else last_note(self.session, self._name))
        self._leave.setVisible(not left)
        self._take_up.setVisible(left)

    def _show_missing(self, cavity: Cavity, served: set[str]) -> None:
        """Its cups for which no vent was found."""
        states = {found.id: state_of_cup(self.session, cavity, k) for k, found in enumerate(cavity.cups)}
        mine = [m for m in self.session.missing if m.cavity == self._name and m.cup not in served]
        mine = [m for m in mine if states.get(m.cup) != "breathing"]
        if len(cavity.cups) > 1:
            self._none.setText("".join(f"No vent was found for cup {m.cup}." for m in mine[:1]))
            if len(mine) > 1:
                self._none.setText(f"No vent was found for {len(mine)} of its cups: {', '.join(m.cup for m in mine)}.")
        else:
            self._none.setText(without_vent(mine[0]) if mine else "")
        self._none.setVisible(bool(mine))

    def _show_figures(self, cavity: Cavity) -> None:
        put = self._figures.put
        put("Volume", volume(cavity.volume))
        if cavity.cups:
            put(
                "Starts at",
                mm(min(c.cup.from_height for c in cavity.cups)),
                "Build height of the start of its first cup",
            )
        put("Cups", str(len(cavity.cups)) if len(cavity.cups) > 1 else "", "Pockets that are closed for a while")
        before, after = _peaks(self.session, self._name)
        put("Largest sealed area", "" if before is None else area(before), "In one layer, without vents")
        put("With your vents", "" if after is None or not self.session.plan.vents else area(after))
        put("Openings it came with", "" if cavity.openings else "none")
        self.openings.show_cavity(cavity)

    def _accept_all(self) -> None:
        for vent in [v for v in self.session.proposals if v.cavity == self._name]:
            self.session.accept(vent.id)

    def _bring_back(self) -> None:
        for vent in [v for v in self.session.set_aside if v.cavity == self._name]:
            self.session.bring_back(vent.id)
        if self._joins_aside:
            self.session.bring_joins_back(self._name)

    def _leave_alone(self) -> None:
        self.session.leave_alone(self._name, self._note.text().strip())

    def _renote(self) -> None:
        """Changing the note of a cavity that is left alone already changes the note."""
        notes = dict(self.session.plan.left_alone)
        text = self._note.text().strip()
        if self._name in notes and notes[self._name] != text:
            self.session.leave_alone(self._name, text)

    def start_note(self) -> None:
        """Put the cursor into the note."""
        self._note.setFocus()


class CupCard(Card):
    """What is known about a cup: one of several pockets of a cavity."""

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session)
        self._name = name
        self._heading = Heading("Cup", f"Cup {name}")
        self._figures = Figures()
        self._none = label("", wrap=True, select=True)
        self._text = label("", "muted", wrap=True)
        self.printed = CavityPrinted(session, name.rstrip("0123456789"), name)
        self._suction = Suction(session, "cup", name)
        self._again = button("Propose again for this cup", lambda: session.propose_again(name))
        for widget in (self._heading, self._figures, self._none, self._text):
            self.column.addWidget(widget)
        self.column.addLayout(row(self._again))
        self.column.addWidget(label(NEW_VENT, "muted", wrap=True))
        self.column.addWidget(self.printed)
        self.column.addWidget(self._suction)
        self.column.addStretch(1)

    def refresh(self) -> bool:
        """Show how things are now."""
        for cavity in () if self.session.findings is None else self.session.findings.cavities:
            for number, found in enumerate(cavity.cups):
                if found.id == self._name:
                    self._show(cavity, number)
                    return True
        return False

    def _show(self, cavity: Cavity, number: int) -> None:
        cup = cavity.cups[number].cup
        state = state_of_cup(self.session, cavity, number)
        self._heading.above.setText(f"Cup of cavity {cavity.id}")
        self._again.setVisible(left_cup(self.session) == self._name)
        self._heading.pill.show_state(state, STATE_WORDS[state])
        put = self._figures.put
        put("Sealed volume", volume(cup.sealed_volume))
        put("Sealed from", mm(cup.from_height))
        put("Sealed to", "the end" if cup.to_height is None else mm(cup.to_height))
        put("Joins an older cup at", "" if cup.joins_height is None else mm(cup.joins_height))
        put("Largest sealed area", f"{area(cup.peak_area)} at {mm(max(cup.peak_height, cup.from_height))}")
        mine = [v for v in (*self.session.plan.vents, *self.session.proposals) if v.cup == self._name]
        missing = next((m for m in self.session.missing if m.cup == self._name), None)
        self._none.setText("" if missing is None or mine or state == "breathing" else without_vent(missing))
        self._none.setVisible(bool(self._none.text()))
        told = f"{count(len(mine), 'vent')} for it." if mine else "No vent leads into it."
        if not mine and state == "breathing" and cavity.cups[number].state != "breathing":
            told = "It breathes through the vents of other cups."
        self.printed.refresh()
        self._suction.show_now()
        self._text.setText(f"{told} The figures are those without vents." if self.session.plan.vents else told)


def without_vent(missing: NoVent) -> str:
    """Why a cup has no vent, and the ways out."""
    closest = f" Closest miss: {missing.closest}." if missing.closest else ""
    ways_out = "Hang the part otherwise, allow other vents (Ctrl+,), or leave the cavity as it is."
    return sentence(f"No vent was found for it: {missing.reason}.{closest} {ways_out}")


def _cavity(session: Session, name: str) -> Cavity | None:
    found = () if session.findings is None else session.findings.cavities
    return next((c for c in found if c.id == name), None)


def _state_now(session: Session, cavity: Cavity) -> str:
    """State with the accepted vents, as the picture shows it."""
    shown = () if session.picture is None else session.picture.cavities
    return next((c.state for c in shown if c.id == cavity.id), cavity.state)


def _peaks(session: Session, name: str) -> tuple[float | None, float | None]:
    """Largest sealed area of a cavity without vents and with the accepted ones, mm2."""
    bands = () if session.picture is None else session.picture.bands
    for band in bands:
        if band.cavity == name:
            return float(np.max(band.without, initial=0.0)), float(np.max(band.with_vents, initial=0.0))
    return None, None
