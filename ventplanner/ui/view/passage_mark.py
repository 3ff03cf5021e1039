"""Painted over the view: the passage in hand with what stays round it, and the places by which one can be taken."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.picture import ShownVent
from ventplanner.ui.view import drill_shape, fonts
from ventplanner.ui.view.polygons import polygon_of
from ventplanner.ui.view.view import View

HANDLE_PX = 5.5


class PassageMark(QWidget):
    """Over the whole view; lets the mouse through."""

    def __init__(self, view: View) -> None:
        super().__init__(view)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._view = view
        self._stops: FloatArray = np.zeros((0, 3))
        self._legs: tuple[ShownVent, ...] = ()
        self._text = ""
        self._is_refused = False
        self.hide()
        view.mapping_changed.connect(self._follow)

    @property
    def text(self) -> str:
        """What is told of the passage in hand."""
        return self._text

    @property
    def stops(self) -> FloatArray:
        """(k, 3) build points by which a passage can be taken."""
        return self._stops

    def show_this(
        self, stops: FloatArray, legs: tuple[ShownVent, ...] = (), text: str = "", *, is_refused: bool = False
    ) -> None:
        """Handles at build points ((k, 3)), and the legs of the passage in hand with a line about it. is_refused: it
        does not fit between these points; the way between them is dashed."""
        self._stops, self._legs, self._text, self._is_refused = stops, legs, text, is_refused
        self.setAccessibleName(text)
        if not len(stops):
            self.hide()
            return
        self.resize(self._view.size())
        if self.isVisible():
            self.update()
        else:
            self.raise_()
            self.show()

    def _follow(self) -> None:
        if len(self._stops):
            self.resize(self._view.size())
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Legs, then handles, then the line."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours, eye = self._view.shown.colours, self._view.eye
        for leg in self._legs:
            outline = polygon_of(drill_shape.outline(leg, eye))
            fill = QColor(colours.pill_ink)
            fill.setAlpha(190)
            painter.setBrush(fill)
            painter.setPen(QPen(QColor(colours.pill), 1.6))
            painter.drawPolygon(outline)
        pixels = eye.to_screen(self._stops)[:, :2]
        if self._is_refused:
            pen = QPen(QColor(colours.sealed), 2.2)
            pen.setDashPattern([3.0, 2.0])
            way = [QPointF(x, y) for x, y in pixels.tolist()]
            for one in (QPen(QColor(colours.pill), 5.0), pen):
                painter.setPen(one)
                painter.drawPolyline(way)
        painter.setPen(QPen(QColor(colours.pill_ink), 1.6))
        painter.setBrush(QColor(colours.pill))
        for x, y in pixels.tolist():
            painter.drawEllipse(QPointF(x, y), HANDLE_PX, HANDLE_PX)
        if self._text:
            self._paint_text(painter, pixels)

    def _paint_text(self, painter: QPainter, pixels: FloatArray) -> None:
        colours, refused = self._view.shown.colours, self._is_refused
        painter.setFont(fonts.bold(self.font()))
        metrics = QFontMetricsF(painter.font())
        wide, tall = metrics.horizontalAdvance(self._text) + 20.0, metrics.height() + 8.0
        left = max(min(float(pixels[:, 0].max()) + 14.0, self.width() - wide - 8.0), 8.0)
        box = QRectF(left, max(float(pixels[:, 1].min()) - tall - 12.0, 8.0), wide, tall)
        painter.setPen(QPen(QColor(colours.sealed), 1.6) if refused else Qt.PenStyle.NoPen)
        painter.setBrush(QColor(colours.pill if refused else colours.chosen))
        painter.drawRoundedRect(box, tall / 2, tall / 2)
        painter.setPen(QColor(colours.pill_ink if refused else colours.chosen_ink))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._text)
