"""The marks of orientations, the same on the map and in the short list: a number in a circle, a diamond for now."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from ventplanner.ui.theme import LIGHT

RADIUS = 8.5
WHITE, INK = QColor("#ffffff"), QColor(LIGHT.ink)
"""They stand on any colour of the map, which is the same in light and dark."""


def draw_mark(painter: QPainter, place: QPointF, name: str, *, chosen: bool) -> None:
    """The mark of an orientation; "" is the present one. chosen: it is looked at."""
    fill, ink = (INK, WHITE) if chosen else (WHITE, INK)
    painter.setPen(QPen(ink, 1.3))
    painter.setBrush(fill)
    if name:
        painter.drawEllipse(place, RADIUS, RADIUS)
        box = QRectF(place.x() - RADIUS, place.y() - RADIUS, 2 * RADIUS, 2 * RADIUS)
        painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), name)
    else:
        sides = ((0, -1), (1, 0), (0, 1), (-1, 0))
        painter.drawPolygon(QPolygonF([QPointF(place.x() + 6.5 * x, place.y() + 6.5 * y) for x, y in sides]))


def draw_ring(painter: QPainter, place: QPointF, radius: float) -> None:
    """A ring that is seen on any colour: white, with ink on both sides."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for colour, width in ((INK, 3.6), (WHITE, 1.6)):
        painter.setPen(QPen(colour, width))
        painter.drawEllipse(place, radius, radius)
