"""The curve of a place that is kept for comparing, over that of the present one, and which is which."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QTransform

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui import chart_marks
from ventplanner.ui.chart_scale import ROOM_BEYOND_REACH, TITLE_PX, Quantity, runs
from ventplanner.ui.picture import ShownKept
from ventplanner.ui.units import area
from ventplanner.ui.view import fonts
from ventplanner.ui.view.polygons import polygon_of

if TYPE_CHECKING:
    from ventplanner.ui.chart_painting import Drawn

SAMPLE_PX, GAP_PX = 20.0, 4.0
KEPT, FOLLOWS, NOW = "kept", "kept follows…", "now"
LINE_PX = 2.0
LONG_AND_SHORT = (6.0, 2.0, 1.2, 2.0)
"""Dashes of the line in its own widths: no other line of the chart has them."""

LEAST_SHARE = 0.002
"""Less than this share of the scale is drawn as nothing: the line would lie on the axis."""


def curve_of(kept: ShownKept, quantity: Quantity) -> tuple[FloatArray, FloatArray] | None:
    """Heights in mm and values of the kept place; None if they are not known."""
    if quantity == "area":
        return kept.heights, kept.area
    if kept.flow is None or quantity == "section":
        return None
    bands = kept.flow.suction if quantity == "suction" else kept.flow.force
    own = next((band for band in bands if band.cavity == kept.cavity), None)
    return None if own is None else (kept.flow.heights, own.with_vents)


def told_at(kept: ShownKept | None, quantity: Quantity, height: float) -> str:
    """The value of the kept place at a height, in words to be added; "" if there is none."""
    found = None if kept is None else curve_of(kept, quantity)
    if kept is None or found is None:
        return ""
    value = float(np.interp(height, *found))
    figure = area(value) if quantity == "area" else f"{value:.3g} {'kPa' if quantity == 'suction' else 'N'}"
    return f"; {kept.name}: {figure}"


def reach(drawn: Drawn) -> float:
    """What the scale must reach for the kept place: its largest steady suction; all else is below what is without."""
    kept = _kept(drawn)
    if kept is None or kept.flow is None or drawn.quantity != "suction":
        return 0.0
    return min(ROOM_BEYOND_REACH * kept.flow.reach, kept.flow.air)


def paint(painter: QPainter, drawn: Drawn, to_pixels: QTransform) -> None:
    """The line, where the band of its cavity begins. to_pixels: from values and mm to pixels."""
    kept, curves = _kept(drawn), drawn.series
    if kept is None or curves is None:
        return
    found = curve_of(kept, drawn.quantity)
    band = next((b for b in curves.bands if b.cavity == kept.cavity), None)
    if found is None or band is None:
        return
    heights, values = found
    base = np.interp(heights, curves.heights, band.low)
    painter.setPen(_pen(drawn))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for run in runs(values > LEAST_SHARE * drawn.ticks[-1]):
        painter.drawPolyline(to_pixels.map(polygon_of(np.column_stack(((base + values)[run], heights[run])))))


def legend(painter: QPainter, drawn: Drawn) -> bool:
    """How both places are drawn, under the title; False if there are no two, or their curves are not of now."""
    kept = _kept(drawn)
    if kept is None or drawn.series is None or not drawn.is_current:
        return False
    painter.setFont(fonts.small(drawn.font))
    metrics = QFontMetricsF(painter.font())
    known = curve_of(kept, drawn.quantity) is not None
    names = (KEPT if known else FOLLOWS, *([NOW] if kept.here else []))
    place = QPointF(12.0, TITLE_PX + metrics.ascent() - 2.0)
    for k, name in enumerate(names):
        middle = place.y() - metrics.capHeight() / 2
        if k == 0:
            painter.setPen(_pen(drawn))
            painter.drawLine(QPointF(place.x(), middle), QPointF(place.x() + SAMPLE_PX, middle))
        else:
            _filled(painter, drawn, kept.cavity, QRectF(place.x(), middle - 4.0, SAMPLE_PX, 8.0))
        painter.setPen(QColor(drawn.colours.ink))
        place += QPointF(SAMPLE_PX + GAP_PX, 0.0)
        painter.drawText(place, name)
        place += QPointF(metrics.horizontalAdvance(name) + 3.0 * GAP_PX, 0.0)
    return True


def _kept(drawn: Drawn) -> ShownKept | None:
    """What is drawn: of the curves as printed there is none to compare with."""
    if drawn.picture is None or drawn.source != "model" or drawn.quantity == "section":
        return None
    return drawn.picture.kept


def _pen(drawn: Drawn) -> QPen:
    pen = QPen(QColor(drawn.colours.ink), LINE_PX)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setDashPattern(list(LONG_AND_SHORT))
    return pen


def _filled(painter: QPainter, drawn: Drawn, cavity: str, place: QRectF) -> None:
    assert drawn.picture is not None
    colour = next((c.colour for c in drawn.picture.cavities if c.id == cavity), 0)
    fill = QColor(drawn.colours.cavity(colour))
    fill.setAlpha(150)
    painter.fillRect(place, fill)
    painter.setPen(QPen(chart_marks.line_colour(drawn, colour), 1.4))
    painter.drawLine(place.topRight(), place.bottomRight())
