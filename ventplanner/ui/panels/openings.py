"""The openings that a cavity came with: where each is, how wide, and to close or move it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QVBoxLayout, QWidget

from ventplanner.ui.panels.fields import button, clear, label, row
from ventplanner.ui.words import count, mm

if TYPE_CHECKING:
    from ventplanner.analysis.cavities import Cavity
    from ventplanner.analysis.openings import Opening
    from ventplanner.ui.session import Session

MOST = 6
"""So many openings are listed, the widest first; a lattice has hundreds."""

CLOSE = "Goes on with the wall there, flush with its skins, before the print. Vents of the plan are never closed."


MOVE = "Then click its new place: a vent as wide is drilled there, and this opening is closed, in one step."

ON = "One more vent along its axis, through the wall behind, into the next hollow; just narrow enough to pass."


class OpeningList(QWidget):
    """Made anew only when the findings differ; hidden where there are none."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self._shown: tuple[object, ...] = ()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 4, 0, 4)
        self._column.setSpacing(3)

    def show_cavity(self, cavity: Cavity) -> None:
        """List its openings."""
        unit = mm(1.0)
        if self._shown and self._shown[0] is cavity and self._shown[1] == unit:
            return
        self._shown = (cavity, unit)
        clear(self._column)
        openings = sorted(cavity.openings, key=lambda o: -o.width)
        self.setVisible(bool(openings))
        if openings:
            self._column.addWidget(label("Openings it came with", "heading"))
        for opening in openings[:MOST]:
            self._line(opening)
        if len(openings) > MOST:
            self._column.addWidget(label(f"and {count(len(openings) - MOST, 'narrower one')}", "muted"))

    def _line(self, opening: Opening) -> None:
        findings = self._session.findings
        if findings is None:
            return
        text = f"{mm(max(opening.width, 0.0))} wide at {mm(float(opening.at[2]))}"
        self._column.addWidget(label(text))
        x, y, z = findings.scene.frame.to_file(opening.at).tolist()
        show = partial(self._session.show_place, (x, y, z), "opening")
        close = partial(self._session.close_opening, opening)
        move = partial(self._session.take_opening, opening)
        on = partial(self._session.drill_on, opening)
        self._column.addLayout(
            row(
                button("Show place", show, name=f"Show place: opening {text}"),
                button("Close it", close, name=f"Close the opening {text}", tip=CLOSE),
            )
        )
        self._column.addLayout(
            row(
                button("Move it…", move, name=f"Move the opening {text}", tip=MOVE),
                button("Drill on from here", on, name=f"Drill on from the opening {text}", tip=ON),
            )
        )
