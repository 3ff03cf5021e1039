"""What is drawn over the curves of suction and force: the limit, marks where curves are cut, and what is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from ventplanner.ui.chart_scale import AXIS_PX, FOOT_PX, TITLE_PX, runs
from ventplanner.ui.view import fonts
from ventplanner.ui.view.colours import mixed

if TYPE_CHECKING:
    from ventplanner.ui.chart_painting import Drawn
    from ventplanner.ui.chart_scale import Source

Flags = NDArray[np.bool_]

TOOTH_PX, DEEP_PX = 6.0, 3.0
NOT_YET, NOT_KNOWN = "Being worked\nout…", "Not known:\nit could not be\nworked out."
NOT_HOLLOWED = "Known of a\npart that was\nhollowed here."
PALE = 0.4
"""Curves of a plan before are this opaque."""

OF_BEFORE = "before the last change"
SOURCES: dict[Source, str] = {
    "model": "in the model",
    "printed": "as printed",
    "awaited": "model; as printed follows…",
    "unknown": "model; as printed unknown",
}
HOLLOWED = "dashed before"
CLOSED, MORE, LIMIT = "closed", "more", "limit"


def paint(painter: QPainter, drawn: Drawn) -> None:
    """The limit, and a torn edge wherever a curve goes on beyond the scale."""
    curves = drawn.series
    if curves is None or not len(curves.heights):
        return
    end = drawn.ticks[-1]
    painter.setOpacity(1.0 if drawn.is_current else PALE)
    for band in curves.bands:
        _torn(painter, drawn, band.colour, (band.high > end) | (band.is_vented & (band.outline > end)))
    worst = np.max([band.high for band in curves.bands], axis=0, initial=0.0)
    painter.setOpacity(1.0)
    if curves.sealed is not None:
        _words(painter, drawn, worst > end, worst >= curves.sealed)
    if curves.limit is not None:
        _limit(painter, drawn, curves.limit)


def _torn(painter: QPainter, drawn: Drawn, colour: int, where: Flags) -> None:
    curves = drawn.series
    assert curves is not None
    right = drawn.column(drawn.ticks[-1])
    painter.setPen(QPen(line_colour(drawn, colour), 1.4))
    for run in runs(where):
        rows = [drawn.mapping.row(h) for h in curves.heights[run][[0, -1]]]
        low, high = min(rows), max(rows)
        count = max(2, round((high - low) / TOOTH_PX))
        teeth = [
            QPointF(right + DEEP_PX * (1 if k % 2 else -1), low + (high - low) * k / count) for k in range(count + 1)
        ]
        painter.drawPolyline(QPolygonF(teeth))


def _words(painter: QPainter, drawn: Drawn, beyond: Flags, sealed: Flags) -> None:
    """Why what is left is cut: a word at each stretch that has room for it."""
    curves = drawn.series
    assert curves is not None
    metrics = QFontMetricsF(painter.font())
    painter.setPen(QColor(drawn.colours.ink))
    right = drawn.column(drawn.ticks[-1]) - DEEP_PX - 5.0
    for run in runs(beyond):
        rows = [drawn.mapping.row(h) for h in curves.heights[run][[0, -1]]]
        if abs(rows[1] - rows[0]) >= metrics.height():
            text = CLOSED if bool(sealed[run].any()) else MORE
            row = sum(rows) / 2 + metrics.capHeight() / 2
            painter.drawText(QPointF(right - metrics.horizontalAdvance(text), row), text)


def _limit(painter: QPainter, drawn: Drawn, limit: float) -> None:
    column = drawn.column(limit)
    metrics = QFontMetricsF(painter.font())
    pen = QPen(QColor(drawn.colours.ink), 1.2)
    pen.setDashPattern([1.0, 2.6])
    painter.setPen(pen)
    top = TITLE_PX + 2.0 * metrics.height()
    painter.drawLine(QPointF(column, top), QPointF(column, drawn.height - FOOT_PX))
    painter.setPen(QColor(drawn.colours.ink))
    wide = metrics.horizontalAdvance(LIMIT)
    painter.drawText(QPointF(min(column - wide / 2, drawn.width - wide - 3), top - 4.0), LIMIT)


def tell(painter: QPainter, drawn: Drawn, *, is_said: bool = False) -> None:
    """Whether the curves are those in the model or as printed, and what is not known, or only of a plan before.

    is_said: the line under the title tells how two places are drawn: only those in the model are."""
    if drawn.picture is None:
        return
    painter.setFont(fonts.small(drawn.font))
    painter.setPen(QColor(drawn.colours.muted))
    if drawn.series is None:
        place = QRectF(AXIS_PX + 8, 0.35 * drawn.height, drawn.width - AXIS_PX - 12, 0.3 * drawn.height)
        text = NOT_YET if drawn.picture.flow_coming else NOT_KNOWN
        text = NOT_HOLLOWED if drawn.quantity == "section" else text
        painter.drawText(place, int(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft), text)
    old = drawn.source == "model" and not drawn.is_current
    text = OF_BEFORE if old else SOURCES[drawn.source]
    if drawn.quantity == "section":
        text = "" if drawn.series is None else HOLLOWED
    if not is_said:
        painter.drawText(QPointF(12, TITLE_PX + painter.fontMetrics().ascent() - 2), text)


def line_colour(drawn: Drawn, number: int) -> QColor:
    """The cavity's colour, darker (or lighter) so that a thin line of it can be seen on paper."""
    return QColor(mixed(drawn.colours.cavity(number), drawn.colours.ink, 0.25))
