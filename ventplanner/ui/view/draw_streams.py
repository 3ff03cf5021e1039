"""Drawn over the frame: liquid that runs out of a hole, straight down in the picture, and where a vent would help."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF

from ventplanner.ui.view.shown import Shown

LENGTH_PX, RING_PX = 52.0, 8.0


def draw_streams(painter: QPainter, shown: Shown) -> None:
    """A ring at each hole and an arrow down from it."""
    for at, _ in shown.streams:
        x, y = (float(v) for v in shown.eye.to_screen(np.asarray(at))[:2])
        tip = y + RING_PX + LENGTH_PX * max(float(np.cos(np.radians(shown.eye.elevation))), 0.3)
        # A rim of paper keeps it apart from whatever is behind.
        for colour, more in ((shown.colours.paper, 2.5), (shown.colours.liquid, 0.0)):
            pen = QPen(QColor(colour), 3.0 + more, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(QPointF(x, y), RING_PX, RING_PX)
            painter.drawLine(QPointF(x, y + RING_PX), QPointF(x, tip - 8))
            painter.setBrush(QColor(colour))
            painter.drawPolygon(QPolygonF([QPointF(x, tip), QPointF(x - 5, tip - 9), QPointF(x + 5, tip - 9)]))


def draw_hints(painter: QPainter, shown: Shown) -> None:
    """A dashed ring at each place where a vent would help, with a word beside it."""
    for at, word in shown.hints:
        x, y = (float(v) for v in shown.eye.to_screen(np.asarray(at))[:2])
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, wide, style in (
            (shown.colours.paper, 4.5, Qt.PenStyle.SolidLine),
            (shown.colours.ghost_ink, 2.0, Qt.PenStyle.DashLine),
        ):
            painter.setPen(QPen(QColor(colour), wide, style))
            painter.drawEllipse(QPointF(x, y), 1.5 * RING_PX, 1.5 * RING_PX)
        outline = QPainterPath()
        outline.addText(x + 2.0 * RING_PX, y + 4.0, painter.font(), word)
        painter.strokePath(outline, QPen(QColor(shown.colours.paper), 4.0))
        painter.fillPath(outline, QColor(shown.colours.ghost_ink))
