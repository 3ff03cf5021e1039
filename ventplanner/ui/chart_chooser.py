"""The title of the breathing chart, which is a button: what it shows, in which unit, and a menu to choose another, in
the model or as printed."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QEvent, QPoint, QSize, Qt
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QMenu, QWidget

from ventplanner.ui.chart_painting import UNITS
from ventplanner.ui.chart_scale import QUANTITIES, Quantity, Source
from ventplanner.ui.marks import icon
from ventplanner.ui.panels.fields import Tool
from ventplanner.ui.units import System, shown_unit, system

TITLES: dict[Quantity, str] = {"area": "Sealed area", "suction": "Suction", "force": "Force", "section": "Material"}
AROUND_PX = 34
"""Beside the words: the arrow, and the padding of the style."""

MODEL, PRINTED, PRINTED_KEY = "In the model", "As printed", "A"
ABOUT: dict[Source, str] = {
    "model": "",
    "printed": ", as printed",
    "awaited": ", in the model; as printed is being worked out",
    "unknown": ", in the model; as printed is not known, Shift+A works it out",
}

KEYS: dict[Quantity, str] = {quantity: f"Ctrl+{k}" for k, quantity in enumerate(QUANTITIES, 1)}


class Chooser(Tool):
    """`choose` is called with what the user wants to see, `choose_printed` with whether as printed."""

    def __init__(
        self, parent: QWidget, choose: Callable[[str], object], choose_printed: Callable[[bool], object]
    ) -> None:
        self._now: tuple[Quantity, Source, System] | None = None
        super().__init__(parent)
        self.setProperty("kind", "title")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.setLayoutDirection(Qt.LayoutDirection.RightToLeft)
        self.setIconSize(QSize(12, 12))
        self.setCursor(Qt.CursorShape.ArrowCursor)
        font = self.font()
        font.setWeight(font.Weight.DemiBold)
        self.setFont(font)
        menu = self.choices = QMenu(self)
        menu.setLayoutDirection(Qt.LayoutDirection.LeftToRight)
        group = QActionGroup(menu)
        self.entries: dict[Quantity, QAction] = {}
        for quantity in QUANTITIES:
            entry = menu.addAction("", partial(choose, quantity))
            entry.setCheckable(True)
            group.addAction(entry)
            self.entries[quantity] = entry
        menu.addSeparator()
        self.sources: dict[bool, QAction] = {}
        of = QActionGroup(menu)
        for printed, text in ((False, MODEL), (True, f"{PRINTED}\t{PRINTED_KEY}")):
            entry = menu.addAction(text, partial(choose_printed, printed))
            entry.setCheckable(True)
            of.addAction(entry)
            self.sources[printed] = entry
        self.clicked.connect(lambda: menu.popup(self.mapToGlobal(QPoint(0, self.height()))))  # no room for an indicator

    def show_now(self, quantity: Quantity, source: Source) -> None:
        """What is shown now, in the unit that is shown now."""
        now = (quantity, source, system())
        if now == self._now:  # asked at each step of a drag; laying out the words takes as long as painting some
            return
        self._now = now
        self.sources[source != "model"].setChecked(True)
        for each, entry in self.entries.items():
            entry.setText(f"{told(each)}\t{KEYS[each]}")
            entry.setChecked(each == quantity)
        self.setText(told(quantity))
        self.setIcon(icon("down"))
        estimate = "" if quantity == "area" and source != "printed" else ", an estimate"
        shown = f"{told(quantity)}{ABOUT[source]}{estimate}"
        self.setAccessibleName(f"The chart shows: {shown}")
        self.setToolTip(f"{shown}\nDashed without vents in the model, filled with those accepted")
        # Qt would leave a gap between the words and the arrow.
        self.resize(self.fontMetrics().horizontalAdvance(self.text()) + AROUND_PX, self.sizeHint().height())

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """The arrow in the colours of now; another font asks for another size."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self._now = None
        if event.type() == QEvent.Type.PaletteChange:
            self.setIcon(icon("down"))


def told(quantity: Quantity) -> str:
    """A quantity with its unit."""
    return f"{TITLES[quantity]}, {shown_unit(UNITS[quantity])}"
