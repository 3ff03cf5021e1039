"""Notes on a card under their headings; one that knows its place can show it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtWidgets import QVBoxLayout

from ventplanner.plan.model import Point
from ventplanner.ui.panels.fields import button, clear, label, row
from ventplanner.ui.units import sentence
from ventplanner.ui.words import place

if TYPE_CHECKING:
    from ventplanner.ui.session import Session


class Note(NamedTuple):
    """A sentence under a heading. at_mm: its place along the file's axes, and `what` there is to be seen."""

    heading: str
    text: str
    at_mm: Point | None = None
    what: str = ""


class Notes(QVBoxLayout):
    """Made anew only when what is said differs."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.setSpacing(6)
        self._session = session
        self._said: tuple[Note, ...] = ()

    def say(self, notes: Sequence[Note]) -> None:
        """Show these notes; those of one heading follow each other."""
        if tuple(notes) == self._said:
            return
        self._said = tuple(notes)
        clear(self)
        heading = ""
        for note in notes:
            if note.heading != heading:
                self.addWidget(label(note.heading, "heading"))
                heading = note.heading
            self.addWidget(label(note.text, "muted", wrap=True, select=True))
            if note.at_mm is not None:
                show = partial(self._session.show_place, note.at_mm, note.what)
                self.addLayout(row(button("Show place", show, name=f"Show place: {note.what}")))


def of_mesh(damage: Sequence[tuple[str, int, Point | None]]) -> list[Note]:
    """What is the matter with the mesh: what it is, how often, a place, and the way out where nothing else names it."""
    from ventplanner.analysis.findings import OVERLAPPING_SKINS  # loaded by now: there are findings

    notes = []
    for what, number, at in damage:
        where = "" if at is None else f", {'one of them ' if number > 1 else ''}at {place(at)}"
        way_out = ". Mend (Ctrl+Shift+M) makes them one" if what == OVERLAPPING_SKINS else ""
        notes.append(Note("The mesh", f"{what[:1].upper()}{what[1:]}: {number}{where}{way_out}", at, what))
    return notes


def of_assumptions(texts: Sequence[str]) -> list[Note]:
    """What was taken for granted, in the words of the window: where the command line has options, it has settings."""
    return [Note("Taken for granted", _without_options(text)) for text in texts]


def _without_options(text: str) -> str:
    text = sentence(text).replace("(ventplanner mend)", "(Ctrl+Shift+M)")
    return text.replace("a smaller --ignore-below shows", "a smaller filter shows").replace(" (--unit)", "")
