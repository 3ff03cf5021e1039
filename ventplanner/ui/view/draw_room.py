"""Drawn round the part: plate, film, ruler of the build height, and which way is down."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.units import length, per_shown, shown_unit
from ventplanner.ui.view.shown import Shown

RULER_PX = 46
"""Width of the strip that the ruler takes at the left."""

_LEAST_STEP_PX = 56.0


def draw_room(painter: QPainter, shown: Shown) -> None:
    """Everything round the part."""
    if shown.picture is None:
        return
    if shown.eye.elevation == 0.0 and (shown.eye.is_level or shown.laid is not None):
        _plate_edge_on(painter, shown)
    if shown.eye.is_level:
        _film_edge_on(painter, shown)
        if painter.clipBoundingRect().left() < 2 * RULER_PX:  # not where only the drill in hand is painted anew
            _ruler(painter, shown)
    elif shown.plate is not None:
        _outlined(painter, shown, shown.plate)
    _gravity(painter, shown)


def nice_step(per_px: float, least_px: float = _LEAST_STEP_PX) -> float:
    """Step of a scale in the unit of `per_px`: 1, 2 or 5 times a power of ten, at least so many pixels."""
    least = max(per_px * least_px, 1e-9)
    ten = 10.0 ** np.floor(np.log10(least))
    return float(next(m * ten for m in (1, 2, 5, 10) if m * ten >= least * (1 - 1e-9)))


def plate_text(shown: Shown) -> str:
    """How the plate and the part stand to each other."""
    assert shown.picture is not None
    held = shown.picture if shown.laid is None else shown.laid
    if held.on == "plate":
        return "plate"
    return f"plate, {length(held.gap)} {'above' if shown.eye.hanging else 'below'} the part"


def film_text(shown: Shown) -> str:
    """Where the film is."""
    return "film, at the last layer" if shown.printed is None else f"film, at {length(shown.film_at)}"


def _row(shown: Shown, height: float) -> float:
    return shown.eye.mapping.row(height)


def _plate_row(shown: Shown) -> float:
    """Row of pixels of the plate as it is seen from its edge."""
    assert shown.picture is not None
    if shown.laid is not None:
        return float(shown.eye.to_screen(np.array(shown.laid.corners[0]))[1])
    return _row(shown, shown.picture.plate_at)


def _plate_edge_on(painter: QPainter, shown: Shown) -> None:
    eye, colours = shown.eye, shown.colours
    row = _plate_row(shown)
    beyond = QRectF(0, 0, eye.width, row) if eye.hanging else QRectF(0, row, eye.width, eye.height - row)
    if beyond.height() > 0:
        shade = QColor(colours.ink)
        shade.setAlpha(12)
        painter.fillRect(beyond, shade)
    painter.setPen(QPen(QColor(colours.ink), 3.0))
    painter.drawLine(QPointF(0, row), QPointF(eye.width, row))
    _note(painter, shown, plate_text(shown), row, outward=-1 if eye.hanging else 1, left=True)


def _film_edge_on(painter: QPainter, shown: Shown) -> None:
    eye = shown.eye
    row = _row(shown, shown.film_at)
    pen = QPen(QColor(shown.colours.muted), 1.0)
    pen.setDashPattern([2.0, 4.0])
    painter.setPen(pen)
    painter.drawLine(QPointF(RULER_PX, row), QPointF(eye.width, row))
    _note(painter, shown, film_text(shown), row, outward=-1 if eye.hanging else 1, left=False)


def _note(painter: QPainter, shown: Shown, text: str, row: float, outward: int, left: bool) -> None:
    """A small line of text beside a horizontal line."""
    box = _note_box(QFontMetricsF(painter.font()), shown, text, row, outward, left)
    painter.setPen(QColor(shown.colours.muted))
    painter.drawText(QPointF(box.left(), box.top() + QFontMetricsF(painter.font()).ascent()), text)


def _note_box(metrics: QFontMetricsF, shown: Shown, text: str, row: float, outward: int, left: bool) -> QRectF:
    wide, tall = metrics.horizontalAdvance(text), metrics.ascent() + metrics.descent()
    x = 14.0 if left else shown.eye.width - wide - 14.0
    return QRectF(x, row + 6.0 if outward > 0 else row - 6.0 - tall, wide, tall)


def note_boxes(shown: Shown, metrics: QFontMetricsF) -> tuple[QRectF, ...]:
    """Where plate and film are named in a level view: nothing else is written there."""
    eye = shown.eye
    if shown.picture is None or eye.elevation != 0.0 or not (eye.is_level or shown.laid is not None):
        return ()
    away = -1 if eye.hanging else 1
    plate = _note_box(metrics, shown, plate_text(shown), _plate_row(shown), away, True)
    if not eye.is_level:
        return (plate,)
    return (plate, _note_box(metrics, shown, film_text(shown), _row(shown, shown.film_at), away, False))


def reaches_ruler(shown: Shown) -> bool:
    """True when the part comes under the ruler's figures."""
    low, high = shown.box
    corners = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
    columns = shown.eye.to_screen(corners)[:, 0]
    return bool(columns.min() < RULER_PX + 8 and columns.max() > 0)


def _ruler(painter: QPainter, shown: Shown) -> None:
    assert shown.picture is not None
    eye = shown.eye
    unit = per_shown("mm")
    step = nice_step(eye.mm_per_px / unit)
    metrics = QFontMetricsF(painter.font())
    bottom, top = _row(shown, 0.0), _row(shown, shown.picture.height)
    plate = _plate_row(shown)
    if reaches_ruler(shown):
        # Enlarged, the part comes under the figures: they stand on a strip of their own then.
        ground = QColor(shown.colours.paper)
        ground.setAlpha(225)
        painter.fillRect(QRectF(0, 0, RULER_PX + 8, eye.height), ground)
    painter.setPen(QPen(QColor(shown.colours.faint), 1.0))
    painter.drawLine(QPointF(12.5, bottom), QPointF(12.5, top))
    decimals = 0 if step >= 1 else int(np.ceil(-np.log10(step)))
    # Fifths of a step where there is room; only the part's own heights are on the ruler.
    for k in range(int(shown.picture.height / (step * unit) * 5 + 1e-6) + 1):
        row = _row(shown, k * step * unit / 5)
        if not -20 < row < eye.height + 20:
            continue
        major = k % 5 == 0
        painter.setPen(QPen(QColor(shown.colours.muted if major else shown.colours.faint), 1.0))
        painter.drawLine(QPointF(12.5, row), QPointF(20.5 if major else 16.5, row))
        if major and abs(row - plate) > metrics.capHeight():
            text = f"{k * step / 5:.{decimals}f}" + (f" {shown_unit('mm')}" if k == 0 else "")
            painter.drawText(QPointF(25.0, row + metrics.capHeight() / 2), text)


def _outlined(painter: QPainter, shown: Shown, plate: FloatArray) -> None:
    """Plate and film as seen from above or below. The plate's area is drawn by the graphics library. Where another pose
    is looked at, the film is not told: no print of the part as it hangs ends there."""
    pen = QPen(QColor(shown.colours.muted), 1.2)
    _outline(painter, shown, plate, pen, plate_text(shown), near=False)
    if shown.laid is None:
        film = QPen(QColor(shown.colours.muted), 1.0)
        film.setDashPattern([2.0, 4.0])
        _outline(painter, shown, shown.floor(shown.film_at), film, film_text(shown), near=True)


def _outline(painter: QPainter, shown: Shown, rectangle: FloatArray, pen: QPen, text: str, *, near: bool) -> None:
    """A rectangle, (4, 3) build points, with its name. near: also the edges that the part may stand before; else these
    are left to the graphics library."""
    corners = shown.eye.to_screen(rectangle)
    nearest = int(np.argmax(corners[:, 2]))
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if near:
        painter.drawPolygon(QPolygonF([QPointF(*c[:2]) for c in corners]))
    else:
        painter.drawPolyline(QPolygonF([QPointF(*corners[(nearest + k) % 4, :2]) for k in (3, 0, 1)]))
    x, y = corners[int(np.argmax(corners[:, 0])), :2]
    # Not beyond the edge, and not upon the word in the upper right corner.
    edge = shown.eye.width - (90.0 if y < 80.0 else 10.0)
    room = edge - QFontMetricsF(painter.font()).horizontalAdvance(text)
    painter.setPen(QColor(shown.colours.muted))
    painter.drawText(QPointF(x + 8, y + 4) if x + 8 <= room else QPointF(room, y - 8), text)


def _gravity(painter: QPainter, shown: Shown) -> None:
    """An arrow in the upper right corner: down in the room, as the part is held in this picture."""
    eye, colours = shown.eye, shown.colours
    length = 30.0 * float(np.cos(np.radians(eye.elevation)))
    metrics = QFontMetricsF(painter.font())
    text = "gravity"
    x = eye.width - 16.0 - metrics.horizontalAdvance(text) / 2
    top = 12.0
    painter.setPen(QColor(colours.muted))
    painter.drawText(QPointF(x - metrics.horizontalAdvance(text) / 2, top + 36.0 + metrics.ascent()), text)
    painter.setPen(QPen(QColor(colours.muted), 2.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.setBrush(QColor(colours.muted))
    if length < 6.0:
        painter.drawEllipse(QPointF(x, top + 15.0), 3.0, 3.0)
        return
    tip = top + 15.0 + length / 2
    painter.drawLine(QPointF(x, tip - length), QPointF(x, tip - 4))
    painter.drawPolygon(QPolygonF([QPointF(x, tip + 2), QPointF(x - 4.5, tip - 6), QPointF(x + 4.5, tip - 6)]))
