"""The card of orientations: the map, what is looked at, the short list, and all figures beside those of now."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from ventplanner.app.orientations import (
    Place,
    about_supports,
    held,
    is_same,
    mapped,
    rows,
    short_list,
    there,
    title,
    told,
    varies,
)
from ventplanner.ui.orient.entry import Entry
from ventplanner.ui.orient.ramp import range_of
from ventplanner.ui.orient.sphere import Mark, SphereMap
from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Choice, button, clear, label, row
from ventplanner.ui.theme import scaled_font
from ventplanner.ui.units import sentence, system

if TYPE_CHECKING:
    from ventplanner.orienting.model import Search
    from ventplanner.plan.model import Point
    from ventplanner.ui.orienting import Orienting
    from ventplanner.ui.session import Session

WORKING = "Trying directions all round, then working out the best in full…"
NOT_KNOWN = "No orientations are known for the part with these options, this printer and this resin."
ABOUT = (
    "Click a patch of the map or an entry of the list: the view shows the part so. It is not turned before you say so."
)
COARSE = "Coarse figures of the map: turned so, the part is analysed in full."
NOW = "So it hangs now."
NOW_COARSE = "So it hangs now. Coarse figures of the map, until they are known in full."


class OrientCard(Card):
    """`mode` knows what is looked at, and looks at something else."""

    def __init__(self, session: Session, mode: Orienting) -> None:
        super().__init__(session)
        self._mode = mode
        self._shown: tuple[object, ...] = ()
        self.heading = Heading("Before the print", "Find an orientation")
        self.told = label("", "muted", wrap=True)
        self.supports = label("", "muted", wrap=True)
        self.begin = button("Find orientations", session.look_for_orientations, "primary")
        self.quantity = Choice()
        self.quantity.setAccessibleName("What the colours of the map show")
        self.quantity.activated.connect(lambda _: self._colour())
        self.map = SphereMap(self._tip)
        self.map.chosen.connect(mode.look_at)
        self.map.marked.connect(mode.take)
        self.looked = label("", wrap=True)
        self.looked.setFont(scaled_font(1.1, self.looked.font().Weight.DemiBold))
        self.line = label("", wrap=True, select=True)
        self.note = label("", "muted", wrap=True)
        self.use = button("Use this orientation", mode.use, "primary")
        self.list_title = label("Short list", "heading")
        self.entries: list[Entry] = []
        self._list = QVBoxLayout()
        self._list.setSpacing(4)
        self.figures = Beside()
        self.leave = button("Back to the part", mode.end, tip="Shift+O")
        self._build()

    def _build(self) -> None:
        self.column.addWidget(self.heading)
        self.column.addWidget(self.told)
        self.column.addWidget(self.supports)
        self.column.addLayout(row(self.begin))
        self._colours = label("Colours", "muted")
        self._colours.setBuddy(self.quantity)
        self._chooser = QWidget()
        line = row(self._colours, self.quantity, stretch=False)
        line.setStretch(1, 1)
        self._chooser.setLayout(line)
        for widget in (self._chooser, self.map, self.looked, self.line, self.note):
            self.column.addWidget(widget)
        self.column.addLayout(row(self.use))
        self.column.addSpacing(6)
        self.column.addWidget(self.list_title)
        self.column.addLayout(self._list)
        self.column.addSpacing(6)
        self.column.addWidget(self.figures)
        self.column.addLayout(row(self.leave))
        self.column.addStretch(1)

    def refresh(self) -> bool:
        """Show what is known now; gone with the mode."""
        if not self._mode.is_on:
            return False
        found, coming = self.session.orientations, self.session.are_orientations_coming
        looked, now = self._mode.looked, self._mode.now
        state = self.session.state
        supports = "" if state is None or found is None else about_supports(found, state)
        key = (found, coming, looked, now, supports, system())
        if key == self._shown:
            return True
        is_new = not self._shown or found is not self._shown[0] or system() != self._shown[-1]
        self._shown = key
        self.told.setText(ABOUT if found is not None else WORKING if coming else NOT_KNOWN)
        self.supports.setText(supports)
        self.supports.setVisible(bool(supports))
        self.begin.setVisible(found is None and not coming)
        for widget in (self._chooser, self.looked, self.line, self.list_title, self.figures):
            widget.setVisible(found is not None)
        self.map.setVisible(found is not None or coming)
        self.note.setVisible(found is not None)
        self.use.setVisible(found is not None)
        if is_new:
            self._show_quantities(found)
        if found is None or looked is None or now is None:
            clear(self._list)
            self.entries = []
            self.map.show_map(None, "", ("", ""))
            return True
        self._show(found, looked, now)
        return True

    def _show(self, found: Search, looked: Place, now: Place) -> None:
        places = short_list(found)
        here = is_same(looked.pose, now.pose)
        name = title(looked.pose)
        self.looked.setText(f"{looked.number} · {name}" if looked.number else name)
        in_list = here or looked.number > 0
        self.line.setText(sentence(held(looked) if in_list else f"{told(looked, now)} {held(looked)}"))
        self.note.setText((NOW_COARSE if now.coarse else NOW) if here else COARSE)
        self.note.setVisible(here or looked.coarse)
        self.use.setEnabled(not here)
        marks = (*(Mark(place.number, place.pose.to_plate) for place in places), Mark(0, now.pose.to_plate))
        at = looked.number if looked.number or here else looked.pose.to_plate
        self.map.show_marks(marks, at, sentence(f"{name}. {told(looked, now)}"))
        self._show_list((now, *places), looked, now)
        self.figures.show_rows(looked, now, both=not here)

    def _show_list(self, places: tuple[Place, ...], looked: Place, now: Place) -> None:
        """The present orientation, then the short list. Entries stay what they are: the focus does, too."""
        if len(self.entries) != len(places):
            clear(self._list)
            self.entries = []
            for number in range(len(places)):
                self.entries.append(Entry(str(number) if number else "", partial(self._mode.take, number)))
                self._list.addWidget(self.entries[-1])
        for number, (entry, place) in enumerate(zip(self.entries, places, strict=True)):
            name = title(place.pose) if number else f"Now: {title(place.pose)}"
            line = sentence(told(place, now if number else None))
            entry.tell(name, line, looked_at=is_same(place.pose, looked.pose))

    def _show_quantities(self, found: Search | None) -> None:
        before = self.quantity.currentData()
        self.quantity.clear()
        known = () if found is None else mapped(found.map)
        for quantity in known:
            self.quantity.addItem(quantity.label, quantity.name)
        # What differs nowhere is no map to begin with.
        varied = (k for k, q in enumerate(known) if found is not None and varies(found.map, q))
        at = self.quantity.findData(before)
        self.quantity.setCurrentIndex(at if at >= 0 else next(varied, 0))
        self._colour()

    def _colour(self) -> None:
        """Colour the map by the figure that is chosen."""
        found = self.session.orientations
        known = () if found is None else mapped(found.map)
        quantity = next((q for q in known if q.name == self.quantity.currentData()), None)
        if found is None or quantity is None:
            self.map.show_map(None, "", ("", ""))
            return
        self.quantity.setToolTip(quantity.tip)
        least, most = (sentence(quantity.told(v)) for v in range_of(found.map.figures[quantity.name]))
        self.map.show_map(found.map, quantity.name, (least, most))

    def _tip(self, under: Point | int) -> str:
        """What a direction, or one with a mark, costs: for the tip under the pointer."""
        found, now = self.session.orientations, self._mode.now
        if found is None or now is None:
            return ""
        places = (now, *short_list(found))
        place = places[under] if isinstance(under, int) else there(found, under, now.pose)
        about = "about " if place.coarse else ""
        lines = [title(place.pose), *(f"{one.name}: {about}{one.here}" for one in rows(place, place))]
        return sentence("\n".join(lines))


class Beside(QWidget):
    """All figures of what is looked at beside those of now; the better of two is bold and has a mark."""

    def __init__(self) -> None:
        super().__init__()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 2, 0, 4)
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(3)
        self._grid.setColumnStretch(0, 1)

    def show_rows(self, looked: Place, now: Place, *, both: bool) -> None:
        """These figures; those of now alone if nothing else is looked at."""
        clear(self._grid)
        self._grid.addWidget(label("All figures", "heading"), 0, 0)
        sides = ((1, "here", looked), (2, "now", now)) if both else ((2, "now", now),)
        for column, name, place in sides:
            self._put(0, column, f"{name}, about" if place.coarse else name, "muted")
        for line, one in enumerate(rows(looked if both else now, now), start=1):
            of = label(one.short, "muted", wrap=True)
            of.setToolTip(one.tip)
            self._grid.addWidget(of, line, 0, Qt.AlignmentFlag.AlignTop)
            of.show()
            for column, side, place in sides:
                text = one.here if side == "here" else one.now
                if text:
                    better = one.better == side
                    about = "about " if place.coarse else ""
                    said = f"{one.name}, {side}: {about}{sentence(text)}{', the better one' if better else ''}"
                    self._put(line, column, sentence(f"✓ {text}" if better else text), said=said, bold=better)

    def _put(self, line: int, column: int, text: str, role: str = "", said: str = "", *, bold: bool = False) -> None:
        shown = label(text, role, select=bool(said))
        shown.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
        if bold:
            font = shown.font()
            font.setBold(True)
            shown.setFont(font)
        if said:
            shown.setAccessibleName(said)
        self._grid.addWidget(shown, line, column)
        shown.show()  # what is not shown yet has no width for the panel, which makes room at once
