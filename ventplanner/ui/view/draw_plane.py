"""Drawn over the frame: the frame of the free section plane, and the handle by which it is moved."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.view import plane
from ventplanner.ui.view.shown import Shown
from ventplanner.ui.words import mm

_RADIUS = 11.0
_ARROW_FROM, _ARROW_TO, _ARROW_HALF = 15.0, 24.0, 7.5
_ROUND = Qt.PenJoinStyle.RoundJoin


def draw_frame(painter: QPainter, shown: Shown) -> None:
    """A thin frame round the part in the plane."""
    if shown.section is None or shown.picture is None:
        return
    corners = shown.eye.to_screen(plane.outline(shown.section, shown.eye, shown.box))[:, :2]
    pen = QPen(QColor(shown.colours.muted), 1.0)
    pen.setDashPattern([5.0, 4.0])
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in corners.tolist()]))


def draw_handle(painter: QPainter, shown: Shown) -> None:
    """At the edge of the frame a knob with two arrows: the ways it goes."""
    if shown.section is None or shown.picture is None:
        return
    colours = shown.colours
    handle = plane.handle(shown.section, shown.eye, shown.box)
    strong = shown.on_handle
    at = QPointF(*handle.at.tolist())
    painter.setPen(QPen(QColor(colours.pill), 1.6, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, _ROUND))
    painter.setBrush(QColor(colours.chosen))
    for sign in (1.0, -1.0):
        painter.drawPolygon(_arrow(handle.at, sign * handle.along))
    painter.drawEllipse(at, _RADIUS + strong, _RADIUS + strong)
    # Two bars in the knob, square to the way it goes: the plane, seen edge on.
    painter.setPen(QPen(QColor(colours.chosen_ink), 1.8, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    side = np.array([-handle.along[1], handle.along[0]])
    for off in (-2.2, 2.2):
        a, b = (handle.at + off * handle.along + s * 4.5 * side for s in (1, -1))
        painter.drawLine(QPointF(*a.tolist()), QPointF(*b.tolist()))
    if strong:
        _told(painter, shown, handle.at)


def _told(painter: QPainter, shown: Shown, at: FloatArray) -> None:
    """Where the plane stands, in a pill to the left of the handle."""
    assert shown.section is not None
    text = mm(plane.position(shown.section, shown.box))
    bold = QFont(painter.font())
    bold.setWeight(QFont.Weight.DemiBold)
    metrics = QFontMetricsF(bold)
    wide, tall = metrics.horizontalAdvance(text) + 18.0, metrics.height() + 6.0
    pill = QRectF(float(at[0]) - _ARROW_TO - 6.0 - wide, float(at[1]) - tall / 2, wide, tall)
    painter.setPen(QPen(QColor(shown.colours.pill), 1.4))
    painter.setBrush(QColor(shown.colours.chosen))
    painter.drawRoundedRect(pill, tall / 2, tall / 2)
    painter.save()
    painter.setFont(bold)
    painter.setPen(QColor(shown.colours.chosen_ink))
    painter.drawText(pill, Qt.AlignmentFlag.AlignCenter, text)
    painter.restore()


def _arrow(at: FloatArray, along: FloatArray) -> QPolygonF:
    side = np.array([-along[1], along[0]])
    foot = at + _ARROW_FROM * along
    tips = (at + _ARROW_TO * along, foot + _ARROW_HALF * side, foot - _ARROW_HALF * side)
    return QPolygonF([QPointF(*tip.tolist()) for tip in tips])
