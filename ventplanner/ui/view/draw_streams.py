"""Drawn over the frame: liquid that runs out of a hole, straight down in the picture."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

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
