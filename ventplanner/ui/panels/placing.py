"""A vent by hand, new or instead of an opening: at the pointer, by the menu of a place, or with the next click."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QPointF, Qt
from PySide6.QtGui import QCursor
from PySide6.QtWidgets import QMenu

from ventplanner.ui.selection import cavity_of
from ventplanner.ui.words import mm

if TYPE_CHECKING:
    from ventplanner.analysis.openings import Opening
    from ventplanner.ui.session import Session
    from ventplanner.ui.view.picking import Hit
    from ventplanner.ui.view.view import View

HOW = "Click the place of the skin where the vent goes; Return takes the middle of the view, Esc stops this."
WHERE = "Click where the opening is to go instead; Return takes the middle of the view, Esc leaves it where it is."
MOST = 6
"""So many openings are offered in the menu of a place, the widest first."""

NO_SKIN = "There is no skin there: point at the part."


class Placing(QObject):
    """Asks the view for the place, and the session for the vent."""

    def __init__(self, session: Session, view: View) -> None:
        super().__init__(view)
        self._session = session
        self._view = view
        self._opening: Opening | None = None  # the one that the next click moves
        session.move_wanted.connect(self._take)
        view.menu_wanted.connect(self._show_menu)
        view.vent_placed.connect(self._clicked)

    def begin(self) -> str:
        """Place one at the pointer if that is over the part; else the next click does. Returns what to do then."""
        hit, self._opening = self._under_pointer(), None
        if hit is not None:
            told = self._told_of_hole(hit)
            if not told:
                self._place(hit)
            return told
        self._view.set_tool("vent")
        self._view.setFocus()
        return HOW

    def why_not(self) -> str:
        """Ask what a vent at the pointer would cost, or why there is none; returns what to do if no skin is there."""
        hit = self._under_pointer()
        if hit is None:
            return NO_SKIN
        told = self._told_of_hole(hit)
        if not told:
            self._ask(hit)
        return told

    def _told_of_hole(self, hit: Hit) -> str:
        """What to do where a hole is pointed at: not the wall behind it is meant. "" on plain skin."""
        findings, state = self._session.findings, self._session.state
        if findings is None or state is None or hit.towards is None:
            return ""
        from ventplanner.app.from_openings import hole_before

        width = hole_before(findings, state.plan, hit.point, hit.towards)
        return "" if width is None else f"There is a hole here, {mm(width)} wide: point at the skin beside it."

    def _under_pointer(self) -> Hit | None:
        view = self._view
        return view.hit(QPointF(view.mapFromGlobal(QCursor.pos()))) if view.underMouse() else None

    def _ask(self, hit: Hit) -> None:
        self._session.why_not(hit.point, hit.normal)

    def _take(self, opening: Opening) -> None:
        """The next click says where an opening goes."""
        self._opening = opening
        self._view.set_tool("vent")
        self._view.setFocus()
        self._session.said.emit(WHERE)

    def _clicked(self, hit: Hit) -> None:
        opening, self._opening = self._opening, None
        if told := self._told_of_hole(hit) if opening is None else "":
            self._session.said.emit(told)
        elif opening is None:
            self._place(hit)
        else:
            self._move(opening, hit)

    def _move(self, opening: Opening, hit: Hit) -> None:
        self._session.move_opening(opening, hit.point, hit.normal)

    def _place(self, hit: Hit) -> None:
        self._session.new_vent(hit.point, hit.normal)

    def _openings(self) -> list[Opening]:
        """Those of the selected cavity."""
        findings, name = self._session.findings, cavity_of(self._session, self._session.selected)
        found = [o for c in ([] if findings is None else findings.cavities) if c.id == name for o in c.openings]
        return sorted(found, key=lambda o: -o.width)[:MOST]

    def _show_menu(self, place: QPointF) -> None:
        hit = self._view.hit(place)
        if hit is None or self._session.findings is None or self._view.tool != "look":
            return
        menu = QMenu(self._view)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        told = self._told_of_hole(hit)
        for text, do in (("New vent here", self._place), ("Why not here?", self._ask)):
            menu.addAction(text, partial(self._session.said.emit, told) if told else partial(do, hit))
        menu.addAction("Drill on from this hole", partial(self._session.drill_on_at, hit.point, hit.normal))
        for opening in self._openings():
            text = f"Move the opening {mm(opening.width)} wide at {mm(float(opening.at[2]))} here"
            menu.addAction(text, partial(self._move, opening, hit))
        menu.popup(self._view.mapToGlobal(place.toPoint()))
