"""What a look inside found, on the card of the part: one line for each place, which a click shows in the view."""

from __future__ import annotations

from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QVBoxLayout, QWidget

from ventplanner.ui.panels.fields import button, clear, label, row
from ventplanner.ui.units import sentence

if TYPE_CHECKING:
    from ventplanner.app.looking_inside import Seen
    from ventplanner.ui.session import Session

FEW, MANY = 3, 60
"""So many places of a kind are listed at first, the largest; and so many when all are asked for."""


class InsideList(QWidget):
    """Hidden as long as nothing is known, or nothing was found. Made anew only when what is found differs."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self._shown: tuple[object, ...] = ()
        self._opened: set[str] = set()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 4, 0, 4)
        self._column.setSpacing(3)

    def refresh(self) -> None:
        """Show what is found now."""
        inside, findings = self._session.inside, self._session.findings
        unit = sentence("1.0 mm")
        if self._shown and self._shown[0] is inside and self._shown[1] is findings and self._shown[2] == unit:
            return
        self._shown = (inside, findings, unit)
        clear(self._column)
        places: tuple[Seen, ...] = ()
        if inside is not None and findings is not None:
            from ventplanner.app.looking_inside import seen

            places = seen(inside, findings.scene.frame)
        self.setVisible(bool(places))
        if places:
            self._column.addWidget(label("Look inside", "heading"))
        for kind, found in groupby(places, key=lambda one: one.kind):
            self._list(kind, list(found))

    def _list(self, kind: str, found: list[Seen]) -> None:
        self._column.addSpacing(3)
        title = sentence(kind)
        self._column.addWidget(label(f"{title}: {len(found)}", "muted", wrap=True))
        most = MANY if kind in self._opened else FEW
        for one in found[:most]:
            show = partial(self._session.show_place, one.at_mm, one.what)
            told = f"{title}. {sentence(one.text)} Show the place"
            self._column.addLayout(
                row(button(sentence(one.short), show, "sentence", name=told, tip=sentence(one.text)))
            )
        if len(found) > most:
            more = len(found) - most
            if most == MANY:
                self._column.addWidget(label(f"and {more} smaller ones", "muted"))
            else:
                name = f"{title}: show {more} more"
                self._column.addLayout(row(button(f"{more} more…", partial(self._open, kind), "quiet", name=name)))

    def _open(self, kind: str) -> None:
        """List all of a kind. Not before the click has ended: it is of a button that goes."""
        self._opened.add(kind)
        self._shown = ()
        self._session.changed.emit()
