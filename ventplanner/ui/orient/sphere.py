"""The map: every direction that was searched as a patch of one of two discs, in the colour of one figure."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QBrush,
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QTransform,
)
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from ventplanner.ui.orient.marks import RADIUS, draw_mark, draw_ring
from ventplanner.ui.orient.projection import BOTTOM, TOP, Discs, cells, stepped
from ventplanner.ui.orient.ramp import colours_of
from ventplanner.ui.theme import colours, scaled_font

if TYPE_CHECKING:
    from ventplanner.orienting.model import Map
    from ventplanner.plan.model import Point

LEAST_WIDTH, MOST_RADIUS = 256, 150
_APART, _EDGE = 12, 10
"""Between the discs, and round them: a mark on a rim is whole, and covers no caption."""
_STEPS = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0),
    Qt.Key.Key_Down: (0.0, -1.0),
}


@dataclass(frozen=True)
class Mark:
    """A direction with a mark. number: in the short list, from 1; 0 of the present one."""

    number: int
    to_plate: Point

    @property
    def name(self) -> str:
        """What stands in the mark."""
        return str(self.number) if self.number else ""


class SphereMap(QWidget):
    """`chosen` brings the direction of the map that was clicked or stepped to, `marked` the number of a mark.

    about: what a tip says of a direction, or of a mark, under the pointer.
    """

    chosen = Signal(object)
    marked = Signal(int)

    def __init__(self, about: Callable[[Point | int], str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._about = about
        self._map: Map | None = None
        self._values: NDArray[np.float64] = np.zeros(0)
        self._marks: tuple[Mark, ...] = ()
        self._looked: Point | int = 0
        self._hovered: Point | int | None = None
        self._ends = ("", "")
        self._cells: tuple[object, int, tuple[NDArray[np.int32], ...]] = (None, 0, ())
        self._images: tuple[object, tuple[QImage, ...]] = (None, ())
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setFont(scaled_font(0.88))
        self.setAccessibleName("Map of directions to the plate")

    # What is shown

    def show_map(self, found: Map | None, name: str, ends: tuple[str, str]) -> None:
        """Colour the directions by this figure; None: nothing is known. ends: its least and its most, in words."""
        values = np.zeros(0) if found is None else np.asarray(found.figures[name])
        if found is not self._map:
            self._hovered = None
        self._map, self._values, self._ends = found, values, ends
        self.setEnabled(found is not None)
        self.update()

    def show_marks(self, marks: tuple[Mark, ...], looked: Point | int, told: str) -> None:
        """Mark the short list and the present orientation, and what is looked at: a mark by its number, or another
        direction. told: that in words."""
        self._marks, self._looked = marks, looked
        self.setAccessibleDescription(told)
        self.update()

    @property
    def discs(self) -> Discs:
        """Where the maps are."""
        high = self._caption
        radius = min(0.25 * (self.width() - 2 * _EDGE - _APART), float(MOST_RADIUS))
        middle, y = 0.5 * self.width(), high + _EDGE + radius
        return Discs(radius, (middle - 0.5 * _APART - radius, y), (middle + 0.5 * _APART + radius, y))

    def place_of(self, direction: Point) -> QPointF:
        """Where a direction is on the widget."""
        return QPointF(*self.discs.to_paper(direction)[1])

    def place_of_mark(self, mark: Mark) -> QPointF:
        """Where a mark is: at its direction; that of now beside another one in the same place, such as on the plate."""
        place = self.place_of(mark.to_plate)
        if mark.number == 0 and any(_apart(self.place_of(m.to_plate), place) < RADIUS for m in self._marks if m.number):
            place += QPointF(2.0 * RADIUS, 0.0)
        return place

    @property
    def _caption(self) -> int:
        return self.fontMetrics().height() + 2

    # Size

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Two discs beside each other, with their captions and the scale."""
        return QSize(LEAST_WIDTH, self.heightForWidth(LEAST_WIDTH))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As small as can still be clicked on."""
        return QSize(LEAST_WIDTH, self.heightForWidth(LEAST_WIDTH))

    def hasHeightForWidth(self) -> bool:  # noqa: N802 - Qt's name
        """The discs are round."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802 - Qt's name
        """Discs, two lines of captions, the scale."""
        radius = min(0.25 * (width - 2 * _EDGE - _APART), float(MOST_RADIUS))
        return math.ceil(2.0 * radius) + 4 * self._caption + 2 * _EDGE + 10

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """The discs grow with the panel."""
        super().resizeEvent(event)
        self.setMinimumHeight(self.heightForWidth(self.width()))

    # Pointer and keys

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Tell the figures of the direction under the pointer."""
        under = self._under(event.position())
        if under != self._hovered:
            self._hovered = under
            self.update()
        if under is None:
            QToolTip.hideText()
        else:
            QToolTip.showText(event.globalPosition().toPoint(), self._about(under), self)

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Nothing is pointed at."""
        self._hovered = None
        self.update()
        super().leaveEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Choose what is under the pointer."""
        under = self._under(event.position())
        if event.button() == Qt.MouseButton.LeftButton and under is not None:
            signal = self.marked if isinstance(under, int) else self.chosen
            signal.emit(under)

    def event(self, event: QEvent) -> bool:
        """The arrow keys belong to the map while it has the focus."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and event.key() in _STEPS:
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """The arrow keys go from direction to direction."""
        step = _STEPS.get(Qt.Key(event.key()))
        if step is None or self._map is None:
            super().keyPressEvent(event)
            return
        start = self._nearest(self._direction_of(self._looked))
        self.chosen.emit(self._direction(stepped(self._map.to_plate, start, *step, self.discs)))

    def _under(self, place: QPointF) -> Point | int | None:
        """The number of the mark under the pointer, or the nearest direction of the map."""
        if self._map is None:
            return None
        for mark in self._marks:
            if _apart(self.place_of_mark(mark), place) <= RADIUS:
                return mark.number
        direction = self.discs.to_direction(place.x(), place.y())
        return None if direction is None else self._direction(self._nearest(direction))

    def _direction_of(self, looked: Point | int) -> Point:
        """Of a mark its own; the bottom as long as there is none."""
        if not isinstance(looked, int):
            return looked
        return next((mark.to_plate for mark in self._marks if mark.number == looked), (0.0, 0.0, -1.0))

    def _nearest(self, direction: Point) -> int:
        assert self._map is not None
        return int(np.argmax(self._map.to_plate @ np.asarray(direction)))

    def _direction(self, at: int) -> Point:
        assert self._map is not None
        x, y, z = (float(v) for v in self._map.to_plate[at])
        return x, y, z

    # Painting

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The discs, their captions and marks, the scale."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        discs = self.discs
        images = self._painted(discs)
        for disc in (BOTTOM, TOP):
            self._paint_disc(painter, discs, disc, images[disc] if images else None)
        if self._map is not None:
            self._paint_marks(painter)
            self._paint_scale(painter, discs)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(colours().ink), 2.0))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 6, 6)
        painter.end()

    def _paint_marks(self, painter: QPainter) -> None:
        """What is pointed at, the marks with the first of them on top, what is looked at."""
        if self._hovered is not None and not isinstance(self._hovered, int):
            draw_ring(painter, self.place_of(self._hovered), 4.0)
        for mark in reversed(self._marks):
            chosen = mark.number == self._looked
            draw_mark(painter, self.place_of_mark(mark), mark.name, chosen=chosen)
            if chosen:
                draw_ring(painter, self.place_of_mark(mark), RADIUS + 2.5)
        if not isinstance(self._looked, int):
            draw_ring(painter, self.place_of(self._looked), 6.5)

    def _painted(self, discs: Discs) -> tuple[QImage, ...]:
        """An image of each disc; made anew only where size or figures differ."""
        if self._map is None:
            return ()
        pixels = max(8, round(2.0 * discs.radius * self.devicePixelRatioF()))
        if self._cells[0] is not self._map or self._cells[1] != pixels:
            found = tuple(cells(self._map.to_plate, pixels, disc) for disc in (BOTTOM, TOP))
            self._cells = (self._map, pixels, found)
            self._images = (None, ())
        if self._images[0] is not self._values:
            table = np.full((len(self._values), 4), 255, dtype=np.uint8)
            table[:, :3] = colours_of(self._values)
            self._images = (self._values, tuple(_image(table[each]) for each in self._cells[2]))
        return self._images[1]

    def _paint_disc(self, painter: QPainter, discs: Discs, disc: int, image: QImage | None) -> None:
        look = colours()
        x, y = discs.middle(disc)
        radius = discs.radius
        brush = QBrush(QColor(look.hover))
        if image is not None:
            brush = QBrush(image)
            scale = 2.0 * radius / image.width()
            brush.setTransform(QTransform(scale, 0.0, 0.0, scale, x - radius, y - radius))
        painter.setBrush(brush)
        painter.setPen(QPen(QColor(look.edge), 1.2))
        painter.drawEllipse(QPointF(x, y), radius, radius)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if image is not None:
            painter.setPen(QPen(QColor(34, 39, 42, 70), 0.8))
            for tilt in (30.0, 60.0):
                wide = radius * math.sqrt(1.0 - math.cos(math.radians(tilt)))
                painter.drawEllipse(QPointF(x, y), wide, wide)
        painter.setPen(QColor(look.muted))
        high = self._caption
        middle = int(Qt.AlignmentFlag.AlignCenter)
        painter.drawText(QRectF(x - radius, y - radius - high - 0.7 * _EDGE, 2 * radius, high), middle, "back")
        below = "bottom to plate" if disc == BOTTOM else "top to plate"
        top = y + radius + 0.7 * _EDGE
        painter.drawText(QRectF(x - radius, top, 2 * radius, high), middle, "front")
        font = painter.font()
        bold = painter.font()
        bold.setWeight(bold.Weight.DemiBold)
        painter.setFont(bold)
        painter.drawText(QRectF(x - radius, top + high - 2, 2 * radius, high), middle, below)
        painter.setFont(font)

    def _paint_scale(self, painter: QPainter, discs: Discs) -> None:
        """The colours from the least to the most."""
        look, metrics = colours(), self.fontMetrics()
        high = self._caption
        top = discs.left[1] + discs.radius + 0.7 * _EDGE + 2 * high + 4
        least, most = (metrics.horizontalAdvance(text) for text in self._ends)
        left, right = discs.left[0] - discs.radius, discs.right[0] + discs.radius
        painter.setPen(QColor(look.ink))
        centred = int(Qt.AlignmentFlag.AlignVCenter)
        painter.drawText(QRectF(left, top, least + 2, high), centred, self._ends[0])
        painter.drawText(QRectF(right - most - 2, top, most + 4, high), centred, self._ends[1])
        bar = QRectF(left + least + 8, top + 0.5 * high - 4, right - left - least - most - 16, 8)
        steps = np.linspace(0.0, 1.0, 64)
        strip = np.full((1, 64, 4), 255, dtype=np.uint8)
        strip[0, :, :3] = colours_of(steps)
        painter.drawImage(bar, _image(strip))
        painter.setPen(QPen(QColor(look.edge), 1.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(bar)


def _apart(one: QPointF, other: QPointF) -> float:
    return math.hypot(one.x() - other.x(), one.y() - other.y())


def _image(pixels: NDArray[np.uint8]) -> QImage:
    """An image of (rows, columns, 4) bytes, which it keeps a copy of."""
    rows, columns = pixels.shape[:2]
    data = np.ascontiguousarray(pixels)
    return QImage(data.data, columns, rows, 4 * columns, QImage.Format.Format_RGBA8888).copy()
