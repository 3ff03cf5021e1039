"""How the breathing chart is painted: a frozen value in, pixels out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF, QTransform

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui import chart_kept, chart_marks
from ventplanner.ui.chart_scale import (
    AXIS_PX,
    FOOT_PX,
    RIGHT_PX,
    TITLE_PX,
    Quantity,
    Series,
    Source,
    StackedBand,
    area_ticks,
    runs,
    series,
)
from ventplanner.ui.picture import Band, Picture
from ventplanner.ui.units import length, per_shown, shown_unit
from ventplanner.ui.view import fonts
from ventplanner.ui.view.colours import Colours
from ventplanner.ui.view.draw_room import nice_step
from ventplanner.ui.view.eye import Mapping
from ventplanner.ui.view.polygons import polygon_of

UNITS: dict[Quantity, str] = {"area": "mm2", "suction": "kPa", "force": "N", "section": "mm2"}


@dataclass(frozen=True, eq=False)
class Drawn:
    """All that the chart's picture depends on. width, height: pixels."""

    picture: Picture | None
    colours: Colours
    mapping: Mapping
    width: int
    height: int
    printed: float | None
    hanging: bool
    is_grabbed: bool
    has_focus: bool
    font: QFont
    quantity: Quantity = "area"
    source: Source = "model"

    @cached_property
    def series(self) -> Series | None:
        """The curves; None if they are not known."""
        return None if self.picture is None else _series_of(self.picture, self.quantity)

    @property
    def unit(self) -> float:
        """What one shown unit is in the unit of the curves."""
        return per_shown(UNITS[self.quantity])

    @property
    def is_current(self) -> bool:
        """Whether the curves are of the present plan, and those that are wanted."""
        if self.source in ("awaited", "unknown"):
            return False
        flow = None if self.picture is None else self.picture.flow
        return self.quantity in ("area", "section") or flow is None or flow.current

    @cached_property
    def ticks(self) -> tuple[float, ...]:
        """Values with a figure at the foot: round ones in the unit that is shown."""
        largest = max(self.series.largest, chart_kept.reach(self)) if self.series else 0.0
        return tuple(self.unit * tick for tick in area_ticks(largest / self.unit, self.width - AXIS_PX - RIGHT_PX))

    @cached_property
    def px_per_mm2(self) -> float:
        """Scale of the values: pixels for each mm2, kPa or N."""
        return (self.width - AXIS_PX - RIGHT_PX) / max(self.ticks[-1], 1e-9)

    def column(self, area: float) -> float:
        """Column of pixels of a value."""
        return AXIS_PX + area * self.px_per_mm2

    def area(self, column: float) -> float:
        """Value at a column of pixels."""
        return (column - AXIS_PX) / self.px_per_mm2

    @property
    def handle_at(self) -> float:
        """Build height of the handle."""
        assert self.picture is not None
        return self.picture.height if self.printed is None else self.printed


def at(curves: Series, height: float, values: FloatArray) -> float:
    """Value at a build height."""
    return float(np.interp(height, curves.heights, values))


_last_series: dict[Quantity, Series] = {}


def _series_of(picture: Picture, quantity: Quantity) -> Series | None:
    """Made once: a chart that moves asks for the same again."""
    source = _source_of(picture, quantity)
    if quantity not in _last_series or _last_series[quantity].source is not source:
        made = series(picture, quantity)
        if made is None:
            return None
        _last_series[quantity] = made
    return _last_series[quantity]


def _source_of(picture: Picture, quantity: Quantity) -> tuple[Band, ...] | None:
    """The bands that a quantity is made from; None if they are not known."""
    flow, sections = picture.flow, picture.sections
    if quantity == "area":
        return picture.bands
    if quantity == "section":
        return None if sections is None else sections.bands
    return None if flow is None else flow.force if quantity == "force" else flow.suction


def paint(painter: QPainter, drawn: Drawn) -> None:
    """The whole chart."""
    colours = drawn.colours
    painter.fillRect(QRectF(0, 0, drawn.width, drawn.height), QColor(colours.paper))
    painter.setFont(fonts.small(drawn.font))
    if drawn.picture is not None:
        _plate(painter, drawn)
        painter.setClipRect(QRectF(0, TITLE_PX, drawn.width, drawn.height - TITLE_PX - FOOT_PX))
        _heights(painter, drawn)
        _curves(painter, drawn)
        chart_marks.paint(painter, drawn)
        painter.setClipping(False)
        _areas(painter, drawn)
        chart_marks.tell(painter, drawn, is_said=chart_kept.legend(painter, drawn))
        _handle(painter, drawn)
    if drawn.has_focus:
        pen = QPen(QColor(colours.ink), 1.0)
        pen.setDashPattern([2.0, 2.0])
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(1.5, 1.5, drawn.width - 3.0, drawn.height - 3.0))


def _plate(painter: QPainter, drawn: Drawn) -> None:
    assert drawn.picture is not None
    row = drawn.mapping.row(drawn.picture.plate_at)
    beyond = QRectF(0, 0, drawn.width, row) if drawn.hanging else QRectF(0, row, drawn.width, drawn.height - row)
    if beyond.height() > 0:
        shade = QColor(drawn.colours.ink)
        shade.setAlpha(8)
        painter.fillRect(beyond, shade)
    painter.setPen(QPen(QColor(drawn.colours.ink), 3.0))
    painter.drawLine(QPointF(0, row), QPointF(drawn.width, row))


def _heights(painter: QPainter, drawn: Drawn) -> None:
    """The vertical axis, in mm of build height, on the part only."""
    assert drawn.picture is not None
    mapping, colours = drawn.mapping, drawn.colours
    metrics = QFontMetricsF(painter.font())
    pill = pill_rect(drawn)
    plate = mapping.row(drawn.picture.plate_at)
    painter.setPen(QPen(QColor(colours.ink), 1.2))
    painter.drawLine(QPointF(AXIS_PX, mapping.row(0.0)), QPointF(AXIS_PX, mapping.row(drawn.picture.height)))
    unit = per_shown("mm")
    step = nice_step(mapping.mm_per_px / unit)
    decimals = 0 if step >= 1 else int(np.ceil(-np.log10(step)))
    for k in range(int(drawn.picture.height / (step * unit) + 1e-6) + 1):
        row = mapping.row(k * step * unit)
        if not -20 < row < drawn.height + 20:
            continue
        faint = QColor(colours.faint)
        faint.setAlpha(110)
        painter.setPen(QPen(faint, 1.0))
        painter.drawLine(QPointF(AXIS_PX + 1, row), QPointF(drawn.width - RIGHT_PX, row))
        painter.setPen(QPen(QColor(colours.ink), 1.0))
        painter.drawLine(QPointF(AXIS_PX - 5, row), QPointF(AXIS_PX, row))
        text = f"{k * step:.{decimals}f}" + (f" {shown_unit('mm')}" if k == 0 else "")
        if abs(row - plate) < metrics.capHeight():
            continue
        place = QPointF(AXIS_PX - 9 - metrics.horizontalAdvance(text), row + metrics.capHeight() / 2)
        if not pill.adjusted(-2, -2, 2, 2).contains(place + QPointF(metrics.horizontalAdvance(text), 0)):
            painter.setPen(QColor(colours.muted))
            painter.drawText(place, text)


def _curves(painter: QPainter, drawn: Drawn) -> None:
    curves = drawn.series
    if curves is None or not len(curves.heights):
        return
    shapes = band_shapes(curves)
    to_pixels = QTransform(drawn.px_per_mm2, 0, 0, 1.0 / _mm_down_per_px(drawn), AXIS_PX, drawn.mapping.row(0.0))
    painter.save()
    # What is beyond the scale is cut.
    right = QRectF(0, TITLE_PX, drawn.column(drawn.ticks[-1]) + 1.0, drawn.height - TITLE_PX - FOOT_PX)
    painter.setClipRect(right)
    painter.setOpacity(1.0 if drawn.is_current else chart_marks.PALE)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for shape in shapes:
        painter.setPen(Qt.PenStyle.NoPen)
        fill = QColor(drawn.colours.cavity(shape.colour))
        fill.setAlpha(150 if shape.cavity else 70)
        painter.setBrush(fill)
        for polygon in shape.filled:
            painter.drawPolygon(to_pixels.map(polygon))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(chart_marks.line_colour(drawn, shape.colour), 1.4))
        for line in shape.edges:
            painter.drawPolyline(to_pixels.map(line))
    for shape in shapes:
        pen = QPen(chart_marks.line_colour(drawn, shape.colour), 1.4)
        pen.setDashPattern([3.0, 2.4])
        painter.setPen(pen)
        for line in shape.without:
            painter.drawPolyline(to_pixels.map(line))
    painter.setOpacity(1.0)
    chart_kept.paint(painter, drawn, to_pixels)
    painter.restore()


def _mm_down_per_px(drawn: Drawn) -> float:
    mapping = drawn.mapping
    return (mapping.height_at_bottom_px - mapping.height_at_top_px) / mapping.pixels


@dataclass(frozen=True, eq=False)
class BandShape:
    """A band as polygons in mm2 and mm: its area, its edge, and the edge it had without vents where that differs."""

    cavity: str
    colour: int
    filled: tuple[QPolygonF, ...]
    edges: tuple[QPolygonF, ...]
    without: tuple[QPolygonF, ...]


_last_shapes: list[tuple[Series, tuple[BandShape, ...]]] = []


def band_shapes(curves: Series) -> tuple[BandShape, ...]:
    """The bands as polygons, made once: a chart that moves only maps them to other pixels."""
    if not (_last_shapes and _last_shapes[0][0] is curves):
        _last_shapes[:] = [(curves, tuple(_shape(curves, band) for band in curves.bands))]
    return _last_shapes[0][1]


def _shape(curves: Series, band: StackedBand) -> BandShape:
    heights = curves.heights

    def line(areas: FloatArray, run: slice) -> FloatArray:
        return np.column_stack((areas[run], heights[run]))

    def area(run: slice) -> QPolygonF:
        return polygon_of(np.concatenate((line(band.high, run), line(band.low, run)[::-1])))

    edges = runs(band.high > band.low + curves.least) if band.cavity else []
    without = runs(band.is_vented) if band.cavity else []
    return BandShape(
        band.cavity,
        band.colour,
        tuple(area(run) for run in runs(band.high > band.low)),
        tuple(polygon_of(line(band.high, run)) for run in edges),
        tuple(polygon_of(line(band.outline, run)) for run in without),
    )


def _areas(painter: QPainter, drawn: Drawn) -> None:
    """The horizontal axis, at the foot."""
    metrics = QFontMetricsF(painter.font())
    painter.setPen(QPen(QColor(drawn.colours.muted), 1.0))
    row = drawn.height - FOOT_PX + 4.5
    painter.drawLine(QPointF(AXIS_PX, row), QPointF(drawn.width - RIGHT_PX, row))
    for area in drawn.ticks:
        column = drawn.column(area)
        painter.drawLine(QPointF(column, row), QPointF(column, row + 4))
        text = f"{area / drawn.unit:.6g}"
        x = min(column - metrics.horizontalAdvance(text) / 2, drawn.width - metrics.horizontalAdvance(text) - 3)
        painter.drawText(QPointF(x, row + 8 + metrics.ascent()), text)


def handle_text(drawn: Drawn) -> str:
    """What the handle says."""
    return "whole part" if drawn.printed is None else f"printed to {length(drawn.printed)}"


def pill_rect(drawn: Drawn) -> QRectF:
    """Where the handle's pill is: at the right, on the side that is not printed yet, kept within the chart."""
    bold = fonts.bold(drawn.font)
    metrics = QFontMetricsF(bold)
    wide, tall = metrics.horizontalAdvance(handle_text(drawn)) + 20.0, metrics.height() + 8.0
    beside = 0.0 if drawn.printed is None else tall / 2 + 2.0
    row = drawn.mapping.row(drawn.handle_at) - tall / 2 + (beside if drawn.hanging else -beside)
    row = min(max(row, TITLE_PX + 2.0), drawn.height - FOOT_PX - tall - 2.0)
    return QRectF(drawn.width - wide - 4.0, row, wide, tall)


def _handle(painter: QPainter, drawn: Drawn) -> None:
    colours = drawn.colours
    row = drawn.mapping.row(drawn.handle_at)
    pill = pill_rect(drawn)
    painter.setPen(QPen(QColor(colours.ink), 2.6 if drawn.is_grabbed else 1.8))
    painter.drawLine(QPointF(AXIS_PX - 6, row), QPointF(drawn.width, row))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(colours.ink))
    painter.drawRoundedRect(pill, pill.height() / 2, pill.height() / 2)
    painter.setFont(fonts.bold(drawn.font))
    painter.setPen(QColor(colours.paper))
    painter.drawText(pill, Qt.AlignmentFlag.AlignCenter, handle_text(drawn))
    painter.setFont(fonts.small(drawn.font))
