"""The symbols of the window, drawn by hand so that no font or file is needed."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap

from ventplanner.ui.theme import Colours, colours

Draw = Callable[[QPainter, QRectF, QColor], None]


def state_colours(state: str, c: Colours) -> tuple[str, str]:
    """Colour of the mark and of the word of a state."""
    if state in ("breathing", "accepted"):
        return c.good, c.good_text
    if state in ("sealed", "late", "short"):
        return c.bad, c.bad_text
    return c.edge, c.muted


def draw_state(painter: QPainter, box: QRectF, state: str, colour: QColor) -> None:
    """A closed disc is sealed, a half-filled ring opens late, a ring with a gap breathes; a tick is accepted, a cross
    falls short."""
    pen = QPen(colour, max(1.4, box.width() / 7), Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap)
    inner = box.adjusted(pen.widthF() / 2, pen.widthF() / 2, -pen.widthF() / 2, -pen.widthF() / 2)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if state == "sealed":
        painter.setBrush(colour)
        painter.drawEllipse(inner)
    elif state == "late":
        painter.drawEllipse(inner)
        painter.setBrush(colour)
        painter.drawChord(inner, 180 * 16, 180 * 16)
    elif state == "breathing":
        painter.drawArc(inner, -50 * 16, 280 * 16)
    elif state == "accepted":
        painter.drawPolyline(_points(inner, (0.05, 0.55), (0.38, 0.88), (0.95, 0.15)))
    elif state == "short":
        painter.drawPolyline(_points(inner, (0.1, 0.1), (0.9, 0.9)))
        painter.drawPolyline(_points(inner, (0.9, 0.1), (0.1, 0.9)))
    elif state == "proposed":
        pen.setStyle(Qt.PenStyle.DashLine)
        pen.setDashPattern([1.6, 1.9])
        painter.setPen(pen)
        painter.drawEllipse(inner)
    else:
        middle = inner.center().y()
        painter.drawLine(QPointF(inner.left(), middle), QPointF(inner.right(), middle))


def _points(box: QRectF, *shares: tuple[float, float]) -> list[QPointF]:
    return [QPointF(box.left() + x * box.width(), box.top() + y * box.height()) for x, y in shares]


def _back(painter: QPainter, box: QRectF, colour: QColor) -> None:
    painter.setPen(QPen(colour, 1.7, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
    path = QPainterPath(QPointF(box.left() + 0.12 * box.width(), box.top() + 0.4 * box.height()))
    path.lineTo(_points(box, (0.6, 0.4))[0])
    path.arcTo(
        QRectF(box.left() + 0.4 * box.width(), box.top() + 0.4 * box.height(), 0.46 * box.width(), 0.44 * box.height()),
        90,
        -180,
    )
    path.lineTo(_points(box, (0.4, 0.84))[0])
    painter.drawPath(path)
    painter.drawPolyline(_points(box, (0.32, 0.16), (0.1, 0.4), (0.32, 0.64)))


def _forth(painter: QPainter, box: QRectF, colour: QColor) -> None:
    painter.save()
    painter.translate(box.left() + box.right(), 0)
    painter.scale(-1, 1)
    _back(painter, box, colour)
    painter.restore()


def _search(painter: QPainter, box: QRectF, colour: QColor) -> None:
    painter.setPen(QPen(colour, 1.6, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.drawEllipse(_points(box, (0.42, 0.42))[0], 0.28 * box.width(), 0.28 * box.height())
    painter.drawLine(*_points(box, (0.64, 0.64), (0.88, 0.88)))


def _down(painter: QPainter, box: QRectF, colour: QColor) -> None:
    painter.setPen(QPen(colour, 1.6, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
    painter.drawPolyline(_points(box, (0.25, 0.4), (0.5, 0.64), (0.75, 0.4)))


def _arrow(painter: QPainter, box: QRectF, colour: QColor, degrees: float) -> None:
    painter.save()
    painter.translate(box.center())
    painter.rotate(degrees)
    painter.translate(-box.center())
    painter.setPen(QPen(colour, 1.7, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
    painter.drawPolyline(_points(box, (0.5, 0.86), (0.5, 0.16)))
    painter.drawPolyline(_points(box, (0.2, 0.46), (0.5, 0.16), (0.8, 0.46)))
    painter.restore()


def _up(painter: QPainter, box: QRectF, colour: QColor) -> None:
    _arrow(painter, box, colour, 0.0)


def _left(painter: QPainter, box: QRectF, colour: QColor) -> None:
    _arrow(painter, box, colour, -90.0)


def _right(painter: QPainter, box: QRectF, colour: QColor) -> None:
    _arrow(painter, box, colour, 90.0)


def _keep(painter: QPainter, box: QRectF, colour: QColor) -> None:
    """A hatched disc: a surface in which nothing may be."""
    painter.setPen(QPen(colour, 1.5, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    painter.drawEllipse(_points(box, (0.5, 0.5))[0], 0.38 * box.width(), 0.38 * box.height())
    for one, other in (((0.18, 0.62), (0.62, 0.18)), ((0.26, 0.78), (0.78, 0.26)), ((0.42, 0.86), (0.86, 0.42))):
        painter.drawLine(*_points(box, one, other))


_ICONS: dict[str, Draw] = {
    "back": _back, "forth": _forth, "search": _search, "down": _down, "up": _up, "left": _left, "right": _right,
    "keep": _keep,
}  # fmt: skip


def icon(name: str) -> QIcon:
    """An icon in the colours of now, with its disabled form."""
    c = colours()
    made = QIcon()
    for mode, colour in ((QIcon.Mode.Normal, c.ink), (QIcon.Mode.Disabled, c.faint)):
        made.addPixmap(_pixmap(_ICONS[name], QColor(colour)), mode)
    # On a button that is switched on, which is filled with ink.
    for mode in (QIcon.Mode.Normal, QIcon.Mode.Active, QIcon.Mode.Selected):
        made.addPixmap(_pixmap(_ICONS[name], QColor(c.paper)), mode, QIcon.State.On)
    return made


def _pixmap(draw: Draw, colour: QColor, size: int = 16, ratio: int = 3) -> QPixmap:
    pixmap = QPixmap(QSize(size * ratio, size * ratio))
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw(painter, QRectF(0, 0, size, size), colour)
    painter.end()
    return pixmap


def program_icon() -> QIcon:
    """A hollow drop hanging from its plate, with a vent where the hollow starts."""
    made = QIcon()
    for size in (16, 24, 32, 48, 64, 128, 256):
        pixmap = QPixmap(size, size)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.scale(size / 64, size / 64)
        _emblem(painter)
        painter.end()
        made.addPixmap(pixmap)
    return made


def _emblem(painter: QPainter) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor("#22272a"))
    painter.drawRoundedRect(QRectF(6, 4, 52, 7), 2, 2)
    skin = QPainterPath(QPointF(14, 15))
    skin.lineTo(50, 15)
    skin.cubicTo(58, 40, 46, 60, 32, 60)
    skin.cubicTo(18, 60, 6, 40, 14, 15)
    painter.setBrush(QColor("#cfc9bd"))
    painter.drawPath(skin)
    hollow = QPainterPath(QPointF(20, 21))
    hollow.lineTo(44, 21)
    hollow.cubicTo(49, 40, 42, 54, 32, 54)
    hollow.cubicTo(22, 54, 15, 40, 20, 21)
    painter.setBrush(QColor("#0072B2"))
    painter.drawPath(hollow)
    painter.setBrush(QColor("#f6f4f0"))
    painter.drawRect(QRectF(44, 22, 14, 5))
