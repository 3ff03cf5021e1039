"""The picture of a section through the part as it would be hollowed: its wall, its hollows, the plate, and a scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPaintEvent, QPen, QTransform
from PySide6.QtWidgets import QSizePolicy, QWidget

from ventplanner.ui.theme import colours, scaled_font
from ventplanner.ui.units import exact, per_shown, shown_unit
from ventplanner.ui.view import colours as of_view
from ventplanner.ui.view.polygons import polygon_of

if TYPE_CHECKING:
    from ventplanner.geometry.solid import FloatArray
    from ventplanner.ui.view.section import Outlines
    from ventplanner.ui.work.previewing import ShownSection

MARGIN_PX, FOOT_PX = 16.0, 34.0
PLATE_PX = 3.0


class SectionPicture(QWidget):
    """Seen from the side that was chosen; hanging: turned over in the picture's plane, so that the plate is on top."""

    def __init__(self, hanging: bool) -> None:
        super().__init__()
        self._hanging = hanging
        self._shown: ShownSection | None = None
        self._old, self._problem = True, ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(240, 200))
        self.setAccessibleName("Section through the part as it would be hollowed")

    @property
    def shown(self) -> ShownSection | None:
        """What is drawn; None while nothing is."""
        return None if self._problem else self._shown

    def show_section(self, shown: ShownSection, told: str) -> None:
        """Draw it. told: the same in words."""
        self._shown, self._problem, self._old = shown, "", False
        self.setAccessibleDescription(told)
        self.update()

    def show_problem(self, text: str) -> None:
        """There is nothing to draw, and why."""
        self._problem, self._old = text, False
        self.setAccessibleDescription(text)
        self.update()

    def wait(self) -> None:
        """What is drawn is of before; the next is being worked out."""
        self._old = True
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """All of it: some thousands of points."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look = of_view.DARK if colours().dark else of_view.LIGHT
        painter.setPen(QPen(QColor(colours().line), 1.0))
        painter.setBrush(QColor(look.paper))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 6, 6)
        if self._shown is not None and not self._problem:
            if self._old:
                painter.setOpacity(0.45)
            self._draw(painter, self._shown, look)
            painter.setOpacity(1.0)
        text = self._problem or ("Being worked out…" if self._old else "")
        if text:
            painter.setPen(QColor(look.ink))
            place = QRectF(self.rect()).adjusted(MARGIN_PX, MARGIN_PX, -MARGIN_PX, -MARGIN_PX)
            flags = Qt.TextFlag.TextWordWrap | (
                Qt.AlignmentFlag.AlignCenter if self._problem or self._shown is None else Qt.AlignmentFlag.AlignTop
            )
            painter.drawText(place, int(flags), text)

    def _draw(self, painter: QPainter, shown: ShownSection, look: of_view.Colours) -> None:
        to_pixels, scale = self._placed(shown)
        upright = shown.cut.side != "top"
        across = [k for k in range(3) if k != shown.axis]
        skin, hollows = (_path(cut, across, to_pixels) for cut in (shown.skin, shown.hollows))
        painter.save()
        if upright:  # a hollow that is open goes on below the plate
            low, high = shown.preview.box[:, across]
            painter.setClipRect(to_pixels.mapRect(QRectF(QPointF(*low), QPointF(*high))).adjusted(-2, -2, 2, 2))
        whole = QPainterPath(skin)
        whole.setFillRule(Qt.FillRule.WindingFill)
        whole.addPath(hollows)
        painter.fillPath(whole, QColor(look.cut))
        hatch = QColor(of_view.mixed(look.cut, look.ink, 0.28))
        painter.fillPath(whole, QBrush(hatch, Qt.BrushStyle.BDiagPattern))
        void = QColor(look.cavity(0))
        void.setAlpha(56)
        painter.fillPath(hollows, void)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for path, colour in ((hollows, look.cavity(0)), (skin, of_view.mixed(look.cut, look.ink, 0.7))):
            painter.setPen(QPen(QColor(colour), 1.4))
            painter.drawPath(path)
        painter.restore()
        painter.setFont(scaled_font(0.9))
        if upright and shown.on_plate:
            self._plate(painter, to_pixels, look)
        self._scale(painter, scale, look)

    def _placed(self, shown: ShownSection) -> tuple[QTransform, float]:
        """From build mm in the plane to pixels, and pixels for a mm."""
        low, high = np.delete(shown.preview.box, shown.axis, axis=1)
        wide, tall = np.maximum(high - low, 1e-6).tolist()
        room_x, room_y = self.width() - 2.0 * MARGIN_PX, self.height() - 2.0 * MARGIN_PX - FOOT_PX
        scale = max(1e-3, min(room_x / wide, room_y / tall))
        turned = self._hanging and shown.cut.side != "top"
        middle = 0.5 * (low + high)
        made = QTransform.fromTranslate(0.5 * self.width(), MARGIN_PX + 0.5 * room_y)
        made.scale(-scale if turned else scale, scale if turned else -scale)
        made.translate(-middle[0], -middle[1])
        return made, scale

    def _plate(self, painter: QPainter, to_pixels: QTransform, look: of_view.Colours) -> None:
        row = to_pixels.map(QPointF(0.0, 0.0)).y() + (-1.0 if self._hanging else 1.0) * PLATE_PX
        painter.setPen(QPen(QColor(look.ink), PLATE_PX))
        painter.drawLine(QPointF(MARGIN_PX, row), QPointF(self.width() - MARGIN_PX, row))

    def _scale(self, painter: QPainter, scale: float, look: of_view.Colours) -> None:
        """A bar of a round length at the foot."""
        unit = per_shown("mm")
        rough = 0.3 * self.width() / (scale * unit)
        ten = 10.0 ** np.floor(np.log10(rough))
        length = max(k * ten for k in (1.0, 2.0, 5.0) if k * ten <= rough)
        row, pixels = self.height() - MARGIN_PX, length * unit * scale
        painter.setPen(QPen(QColor(look.ink), 1.4))
        painter.drawLine(QPointF(MARGIN_PX, row), QPointF(MARGIN_PX + pixels, row))
        for at in (0.0, pixels):
            painter.drawLine(QPointF(MARGIN_PX + at, row - 4.0), QPointF(MARGIN_PX + at, row + 4.0))
        painter.drawText(QPointF(MARGIN_PX + pixels + 8.0, row + 4.0), f"{exact(length * unit)} {shown_unit('mm')}")


def _path(cut: Outlines, across: list[int], to_pixels: QTransform) -> QPainterPath:
    """The closed outlines in pixels, filled where they wind round."""
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.WindingFill)
    flat: FloatArray = cut.start[:, across]
    for loop in cut.loops:
        path.addPolygon(to_pixels.map(polygon_of(flat[loop])))
        path.closeSubpath()
    return path
