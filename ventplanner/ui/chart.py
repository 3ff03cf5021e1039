"""The breathing chart: sealed area, suction or force at every build height, at the scale of the part beside it.

Stand it beside the view, with the same upper and lower edge. Bands of the cavities lie upon each other: dashed edges
without vents, filled with the accepted ones, in the model or as printed. Its handle says how far the print has come.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from ventplanner.ui import chart_kept, chart_painting
from ventplanner.ui.chart_chooser import Chooser
from ventplanner.ui.chart_painting import Drawn
from ventplanner.ui.chart_scale import Quantity, Source, own_mapping, seen_of
from ventplanner.ui.picture import Picture
from ventplanner.ui.units import area, length
from ventplanner.ui.view.colours import LIGHT, Colours
from ventplanner.ui.view.eye import Mapping
from ventplanner.ui.view.turning import kept_height

_BEGINS_PX = 4.0
_GRIP_PX = 9.0
TOLD: dict[Source, str] = {
    "model": "",
    "printed": "as printed, ",
    "awaited": "as printed is being worked out; in the model, ",
    "unknown": "as printed is not known; in the model, ",
}
_MARGINS = (72, 64)
"""Pixels above and below the part when the chart shows its whole height by itself."""


class Chart(QWidget):
    """The chart. `printed_dragged` brings a build height in mm, or None for the whole part.

    `clicked` speaks like `Picture.selected`: "cavity A", or "". `zoomed` brings a factor and the row of pixels that
    stays; `panned` brings rows of pixels: connect them to `zoom_at_row` and `pan_rows` of the view. `wanted` brings the
    quantity that was chosen at `chooser`, and `source_wanted` whether it is to be shown as printed.
    """

    printed_dragged = Signal(object)
    zoomed = Signal(float, float)
    panned = Signal(float)
    clicked = Signal(str)
    wanted = Signal(str)
    source_wanted = Signal(bool)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        self.setMouseTracking(True)
        self.setAccessibleName("Breathing chart, printed so far")
        self._picture: Picture | None = None
        self._colours = LIGHT
        self._linked: Mapping | None = None
        self._printed: float | None = None
        self._is_hanging = False
        self._away_is_larger = True
        self._doing: Literal["", "pressed", "moving", "handle"] = ""
        self._pressed_at = QPointF()
        self._last = QPointF()
        self._is_over_handle = False
        self._quantity: Quantity = "area"
        self._as_printed = False
        self.chooser = Chooser(self, self.wanted.emit, self.source_wanted.emit)
        self.chooser.move(4, 3)
        self._describe()

    @property
    def quantity(self) -> Quantity:
        """What is shown by height."""
        return self._quantity

    def set_quantity(self, quantity: Quantity) -> None:
        """Show sealed area, suction or force."""
        self._quantity = quantity
        self._describe()
        self.update()

    @property
    def source(self) -> Source:
        """Whether the curves are those in the model or as printed, and if not as wanted, why."""
        return self._seen[1]

    def set_as_printed(self, as_printed: bool) -> None:
        """Show the curves as printed, as soon as they are known, or those in the model."""
        self._as_printed = as_printed
        self._describe()
        self.update()

    @property
    def _seen(self) -> tuple[Picture | None, Source]:
        if self._picture is None or self._quantity == "section":
            return self._picture, "model"
        return seen_of(self._picture, self._as_printed)

    @property
    def mapping(self) -> Mapping:
        """Which row of pixels is which build height, at this moment."""
        if self._linked is not None and self._linked.linked:
            return self._linked
        if self._picture is None:
            return Mapping(100.0, 0.0, False, max(self.height(), 1))
        return own_mapping(self._picture, max(self.height(), 1), self._is_hanging, _MARGINS)

    @property
    def printed(self) -> float | None:
        """Build height of the handle, None at the top."""
        return self._printed

    @property
    def handle_row(self) -> float:
        """Row of pixels of the handle."""
        top = self._picture.height if self._picture else 0.0
        return self.mapping.row(top if self._printed is None else self._printed)

    def show_picture(self, picture: Picture | None) -> None:
        """Draw this picture's bands. How far the print has come is forgotten with the part."""
        self._printed = kept_height(self._printed, self._picture, picture)
        self._picture = picture
        self._describe()
        self.update()

    @Slot(object)
    def set_mapping(self, mapping: Mapping) -> None:
        """The view shows these heights."""
        self._linked = mapping
        self.update()

    def set_printed(self, height: float | None) -> None:
        """Where the handle stands."""
        self._printed = height
        self._describe()
        self.update()

    def set_wheel(self, away_is_larger: bool) -> None:
        """What the wheel turned away from the user does."""
        self._away_is_larger = away_is_larger

    def set_hanging(self, hanging: bool) -> None:
        """Plate on top, or plate side down."""
        self._is_hanging = hanging
        self.update()

    def set_colours(self, colours: Colours) -> None:
        """Light or dark."""
        self._colours = colours
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Narrow and tall."""
        return QSize(200, 400)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Wide enough for its figures."""
        return QSize(150, 160)

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint everything: some thousands of points at most."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        chart_painting.paint(painter, self._drawn())
        painter.end()

    # The handle by mouse and by keys, and the picture moved

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Take the handle, or begin to move the picture."""
        self._pressed_at = self._last = event.position()
        if event.button() == Qt.MouseButton.LeftButton and self._is_at_handle(event.position()):
            self._doing = "handle"
        else:
            self._doing = "pressed"

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Move what was taken."""
        place = event.position()
        if not event.buttons():
            self._doing = ""  # the button was let go where this window did not hear of it
        if self._doing == "handle":
            self._ask_for(place.y())
        elif self._doing:
            if self._doing == "pressed" and abs(place.y() - self._pressed_at.y()) >= _BEGINS_PX:
                self._doing = "moving"
            if self._doing == "moving":
                self.panned.emit(place.y() - self._last.y())
                self._last = place
        else:
            over = self._is_at_handle(place)
            self.setCursor(Qt.CursorShape.SizeVerCursor if over else Qt.CursorShape.ArrowCursor)
            if over != self._is_over_handle:
                self._is_over_handle = over
                self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Let go; a press that moved nothing was a click."""
        doing, self._doing = self._doing, ""
        if doing == "pressed" and event.button() == Qt.MouseButton.LeftButton:
            self.clicked.emit(self._word_at(event.position()))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Bring the handle here, anywhere; on the handle, back to the whole part."""
        self._doing = ""
        if self._is_at_handle(event.position()):
            self._show_and_tell(None)
        else:
            self._ask_for(event.position().y())

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Enlarge what is under the pointer, as in the view."""
        turned = event.angleDelta().y()
        if turned:
            self.zoomed.emit(1.0015 ** (turned if self._away_is_larger else -turned), event.position().y())
        event.accept()

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """The handle is no longer under the pointer."""
        self._is_over_handle = False
        self.update()
        super().leaveEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Up and down move the handle on the screen; Home shows the whole part, End what is at the plate."""
        if self._picture is None:
            event.ignore()
            return
        step = {
            Qt.Key.Key_Up: -1.0, Qt.Key.Key_Down: 1.0, Qt.Key.Key_PageUp: -10.0, Qt.Key.Key_PageDown: 10.0
        }.get(Qt.Key(event.key()))  # fmt: skip
        if step is not None:
            fine = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            self._ask_by(step * (0.1 if fine else 1.0) * (1.0 if self._is_hanging else -1.0))
        elif event.key() == Qt.Key.Key_Home:
            self._show_and_tell(None)
        elif event.key() == Qt.Key.Key_End:
            self._show_and_tell(0.0)
        else:
            event.ignore()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Show the focus."""
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """The focus is gone."""
        super().focusOutEvent(event)
        self.update()

    def _ask_by(self, mm: float) -> None:
        assert self._picture is not None
        at = self._picture.height if self._printed is None else self._printed
        self._ask(at + mm)

    def _ask_for(self, row: float) -> None:
        self._ask(self.mapping.height(row))

    def _ask(self, height: float) -> None:
        if self._picture is not None:
            whole = height >= self._picture.height - 1e-9
            self._show_and_tell(None if whole else max(0.0, height))

    def _show_and_tell(self, height: float | None) -> None:
        self.set_printed(height)
        self.printed_dragged.emit(height)

    def _is_at_handle(self, place: QPointF) -> bool:
        if self._picture is None:
            return False
        pill: QRectF = chart_painting.pill_rect(self._drawn())
        return abs(place.y() - self.handle_row) <= _GRIP_PX or pill.contains(place)

    def _word_at(self, place: QPointF) -> str:
        """The band under a pixel, with the vents or without."""
        drawn = self._drawn()
        curves = drawn.series
        if self._picture is None or curves is None or not len(curves.heights) or self._quantity == "section":
            return ""
        height, value = drawn.mapping.height(place.y()), drawn.area(place.x())
        if not 0 <= height <= self._picture.height or value < 0:
            return ""
        for after in (True, False):
            edges = [(chart_painting.at(curves, height, b.high if after else b.outline), b) for b in curves.bands]
            for edge, band in sorted(edges, key=lambda pair: pair[0]):
                if value <= edge:
                    return f"cavity {band.cavity}" if band.cavity else ""
        return ""

    def _drawn(self) -> Drawn:
        picture, source = self._seen
        return Drawn(
            picture,
            self._colours,
            self.mapping,
            self.width(),
            self.height(),
            self._printed,
            self._is_hanging,
            self._is_over_handle or self._doing == "handle",
            self.hasFocus(),
            self.font(),
            self._quantity,
            source,
        )

    def _describe(self) -> None:
        picture, source = self._seen
        self.chooser.show_now(self._quantity, source)
        if picture is None:
            self.setAccessibleDescription("No part is open.")
            return
        if self._printed is None:
            self.setAccessibleDescription("whole part")
            return
        told = f"{TOLD[source]}{self._told_at(picture, self._printed)}"
        self.setAccessibleDescription(f"printed to {length(self._printed)}; {told}")

    def _told_at(self, picture: Picture, height: float) -> str:
        """What is shown at a height, in words."""
        if self._quantity == "area":
            live = [f"{name} {area(mm2)}" for name, mm2 in picture.live_at(height)]
            kept = chart_kept.told_at(picture.kept, "area", height)
            return ("sealed: " + ", ".join(live) if live else "nothing is sealed here") + kept
        if self._quantity == "section":
            shown = picture.sections
            if shown is None:
                return "material is known of a part that was hollowed"
            (band,) = shown.bands
            was, now = (float(np.interp(height, shown.heights, areas)) for areas in (band.without, band.with_vents))
            return f"material: {area(was)} before it was hollowed, {area(now)} now"
        flow = picture.flow
        if flow is None:
            return f"{self._quantity} is not known yet"
        bands = flow.suction if self._quantity == "suction" else flow.force
        unit = chart_painting.UNITS[self._quantity]
        at = [(b.cavity or "a hollow", float(np.interp(height, flow.heights, b.with_vents))) for b in bands]
        live = [f"{name} {value:.3g} {unit}" for name, value in at if value > 0.0]
        before = "" if flow.current else " (before the last change)"
        kept = chart_kept.told_at(picture.kept, self._quantity, height)
        return f"{self._quantity}{before}: {', '.join(live) or 'none here'}{kept}"
