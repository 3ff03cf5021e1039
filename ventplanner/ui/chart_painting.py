"""How the breathing chart is painted: a frozen value in, pixels out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF, QTransform

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.chart_scale import LEAST_MM2, StackedBand, area_ticks, largest_area, stacked
from ventplanner.ui.picture import Picture
from ventplanner.ui.units import length, per_shown, shown_unit
from ventplanner.ui.view import fonts
from ventplanner.ui.view.colours import Colours, mixed
from ventplanner.ui.view.draw_room import nice_step
from ventplanner.ui.view.eye import Mapping

AXIS_PX, RIGHT_PX, FOOT_PX, TITLE_PX = 50, 22, 40, 34
TITLE = "Sealed area"


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

    @cached_property
    def ticks(self) -> tuple[float, ...]:
        """Areas with a figure at the foot, mm2: round ones in the unit that is shown."""
        unit = per_shown("mm2")
        largest = largest_area(self.picture) if self.picture else 0.0
        return tuple(unit * tick for tick in area_ticks(largest / unit, self.width - AXIS_PX - RIGHT_PX))

    @cached_property
    def px_per_mm2(self) -> float:
        """Scale of the areas."""
        return (self.width - AXIS_PX - RIGHT_PX) / max(self.ticks[-1], 1e-9)

    def column(self, area: float) -> float:
        """Column of pixels of an area in mm2."""
        return AXIS_PX + area * self.px_per_mm2

    def area(self, column: float) -> float:
        """Area in mm2 at a column of pixels."""
        return (column - AXIS_PX) / self.px_per_mm2

    @property
    def handle_at(self) -> float:
        """Build height of the handle."""
        assert self.picture is not None
        return self.picture.height if self.printed is None else self.printed


def at(picture: Picture, height: float, areas: FloatArray) -> float:
    """Area in mm2 at a build height."""
    return float(np.interp(height, picture.heights, areas))


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
        painter.setClipping(False)
        _areas(painter, drawn)
        _handle(painter, drawn)
    _title(painter, drawn)
    if drawn.has_focus:
        pen = QPen(QColor(colours.ink), 1.0)
        pen.setDashPattern([2.0, 2.0])
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(1.5, 1.5, drawn.width - 3.0, drawn.height - 3.0))


def _title(painter: QPainter, drawn: Drawn) -> None:
    bold = QFont(drawn.font)
    bold.setWeight(QFont.Weight.DemiBold)
    painter.setFont(bold)
    painter.setPen(QColor(drawn.colours.muted))
    rect = QRectF(12, 2, drawn.width - 16, TITLE_PX - 2)
    painter.drawText(rect, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, f"{TITLE}, {shown_unit('mm2')}")
    painter.setFont(fonts.small(drawn.font))


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
    assert drawn.picture is not None
    if not len(drawn.picture.heights):
        return
    shapes = band_shapes(drawn.picture)
    to_pixels = QTransform(drawn.px_per_mm2, 0, 0, 1.0 / _mm_down_per_px(drawn), AXIS_PX, drawn.mapping.row(0.0))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for shape in shapes:
        painter.setPen(Qt.PenStyle.NoPen)
        fill = QColor(drawn.colours.cavity(shape.colour))
        fill.setAlpha(150 if shape.cavity else 70)
        painter.setBrush(fill)
        for polygon in shape.filled:
            painter.drawPolygon(to_pixels.map(polygon))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(_line_colour(drawn, shape), 1.4))
        for line in shape.edges:
            painter.drawPolyline(to_pixels.map(line))
    for shape in shapes:
        pen = QPen(_line_colour(drawn, shape), 1.4)
        pen.setDashPattern([3.0, 2.4])
        painter.setPen(pen)
        for line in shape.without:
            painter.drawPolyline(to_pixels.map(line))


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


_last_shapes: list[tuple[Picture, tuple[BandShape, ...]]] = []


def band_shapes(picture: Picture) -> tuple[BandShape, ...]:
    """The bands of a picture, made once: a chart that moves only maps them to other pixels."""
    if not (_last_shapes and _last_shapes[0][0].bands is picture.bands):
        _last_shapes[:] = [(picture, tuple(_shape(picture.heights, band) for band in stacked(picture)))]
    return _last_shapes[0][1]


def _shape(heights: FloatArray, band: StackedBand) -> BandShape:
    def line(areas: FloatArray, run: slice) -> list[QPointF]:
        return [QPointF(a, h) for a, h in zip(areas[run].tolist(), heights[run].tolist(), strict=True)]

    def area(run: slice) -> QPolygonF:
        return QPolygonF(line(band.high, run) + line(band.low, run)[::-1])

    edges = _runs(band.high > band.low + LEAST_MM2) if band.cavity else []
    without = _runs(band.is_vented) if band.cavity else []
    return BandShape(
        band.cavity,
        band.colour,
        tuple(area(run) for run in _runs(band.high > band.low)),
        tuple(QPolygonF(line(band.high, run)) for run in edges),
        tuple(QPolygonF(line(band.outline, run)) for run in without),
    )


def _line_colour(drawn: Drawn, band: BandShape) -> QColor:
    """The cavity's colour, darker (or lighter) so that a thin line of it can be seen on paper."""
    return QColor(mixed(drawn.colours.cavity(band.colour), drawn.colours.ink, 0.25))


def _runs(where: NDArray[np.bool_]) -> list[slice]:
    """Stretches of True, one longer at both ends so that lines meet."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], np.asarray(where, dtype=np.int8), [0]))))
    last = len(where)
    return [slice(max(0, int(a) - 1), min(last, int(b) + 1)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _areas(painter: QPainter, drawn: Drawn) -> None:
    """The horizontal axis, at the foot."""
    metrics = QFontMetricsF(painter.font())
    painter.setPen(QPen(QColor(drawn.colours.muted), 1.0))
    row = drawn.height - FOOT_PX + 4.5
    painter.drawLine(QPointF(AXIS_PX, row), QPointF(drawn.width - RIGHT_PX, row))
    for area in drawn.ticks:
        column = drawn.column(area)
        painter.drawLine(QPointF(column, row), QPointF(column, row + 4))
        text = f"{area / per_shown('mm2'):.6g}"
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
