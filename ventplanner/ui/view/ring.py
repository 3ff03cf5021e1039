"""The brush at the pointer: a circle of its size, and a word when it erases."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from ventplanner.ui.view import fonts
from ventplanner.ui.view.view import View

LEAST_PX = 3.0


class Ring(QWidget):
    """Over the whole view; lets the mouse through."""

    def __init__(self, view: View) -> None:
        super().__init__(view)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._view = view
        self._at, self._radius, self._word = QPointF(), 0.0, ""
        self.hide()

    def show_at(self, place: QPointF, radius: float, word: str) -> None:
        """A circle of a radius in mm (0: none, only the word) about a pixel."""
        before = self._box()
        self._at, self._radius, self._word = place, radius, word
        if self.size() != self._view.size():
            self.resize(self._view.size())
        if self.isHidden():
            self.raise_()
            self.show()
        # Only what changes: the frame below is painted again with it.
        self.update(before.united(self._box()).toAlignedRect())

    def set_radius(self, radius: float) -> None:
        """Another size, in mm."""
        self._radius = radius
        self.update()

    def _box(self) -> QRectF:
        px = max(self._radius / self._view.eye.mm_per_px, LEAST_PX) + 6.0
        around = QRectF(self._at.x() - px, self._at.y() - px, 2 * px, 2 * px)
        return around.adjusted(0, 0, 120, 30)

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """A light line on a dark one: it is seen on everything."""
        colours = self._view.shown.colours
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        px = max(self._radius / self._view.eye.mm_per_px, LEAST_PX)
        if self._radius:
            for colour, width in ((colours.pill, 3.5), (colours.pill_ink, 1.5)):
                pen = QPen(QColor(colour), width)
                if self._word and colour == colours.pill_ink:
                    pen.setDashPattern([4.0, 3.0])
                painter.setPen(pen)
                painter.drawEllipse(self._at, px, px)
        if not self._word:
            return
        painter.setFont(fonts.bold(self.font()))
        metrics = QFontMetricsF(painter.font())
        wide, tall = metrics.horizontalAdvance(self._word) + 14.0, metrics.height() + 4.0
        off = 0.7 * px + 4.0
        box = QRectF(self._at.x() + off, self._at.y() + off, wide, tall)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(colours.chosen))
        painter.drawRoundedRect(box, tall / 2, tall / 2)
        painter.setPen(QColor(colours.chosen_ink))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._word)
