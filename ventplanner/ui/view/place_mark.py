"""A ring over the view at one place of the part, with a word, or a cross where a vent is refused; it stays there while
the view is turned and moved."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.view import fonts
from ventplanner.ui.view.view import MARGINS, View

AROUND = 0.12
"""So much of the part's size is shown to each side of the place."""

RING_PX = 15.0
CROSS_PX = 8.0


class PlaceMark(QWidget):
    """Over the whole view; lets the mouse through, and goes with the next click."""

    def __init__(self, view: View) -> None:
        super().__init__(view)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._view = view
        self._point: FloatArray | None = None
        self._text = ""
        self._is_refusal = False
        self.hide()
        view.mapping_changed.connect(self._follow)
        view.clicked.connect(self.clear)

    @property
    def point(self) -> FloatArray | None:
        """The build point that is marked; None if none is."""
        return self._point

    def show_at(self, point: FloatArray, text: str) -> None:
        """Bring a build point ((3,) mm) into the middle of the view, enlarged, and mark it."""
        self._point, self._text, self._is_refusal = np.asarray(point, dtype=np.float64), text, False
        low, high = self._view.shown.box
        around = AROUND * float(np.linalg.norm(high - low))
        self._view.look_from(self._view.eye.fitted(self._point - around, self._point + around, MARGINS))
        self.setAccessibleName(f"{text}, marked in the view")
        self.resize(self._view.size())
        self.raise_()
        self.show()

    def show_refused(self, point: FloatArray | None) -> None:
        """Cross the build point ((3,) mm) that does not let a vent be where it was put, in the colour of a refusal; the
        view stays as it is. None: no more; what else is marked stays."""
        if point is None:
            if self._is_refusal:
                self.clear()
            return
        self._point, self._text, self._is_refusal = np.asarray(point, dtype=np.float64), "", True
        self.setAccessibleName("What the vent does not fit for, marked in the view")
        self.resize(self._view.size())
        if self.isVisible():
            self.update()
        else:
            self.raise_()
            self.show()

    def clear(self) -> None:
        """Mark nothing."""
        self._point, self._is_refusal = None, False
        self.hide()

    def _follow(self) -> None:
        if self._point is not None:
            self.resize(self._view.size())
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """A ring with a gap for what it points at, and the word beside it; or a cross."""
        if self._point is None:
            return
        colours = self._view.shown.colours
        x, y, _ = (float(v) for v in self._view.eye.to_screen(self._point))
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self._is_refusal:
            for colour, width in ((colours.pill, 6.0), (colours.sealed, 2.6)):
                painter.setPen(QPen(QColor(colour), width))
                for up in (CROSS_PX, -CROSS_PX):
                    painter.drawLine(QPointF(x - CROSS_PX, y - up), QPointF(x + CROSS_PX, y + up))
            return
        for colour, width in ((colours.pill, 5.0), (colours.pill_ink, 2.0)):
            painter.setPen(QPen(QColor(colour), width))
            painter.drawEllipse(QPointF(x, y), RING_PX, RING_PX)
            for across, up in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                near, far = RING_PX - 5.0, RING_PX + 6.0
                painter.drawLine(QPointF(x + across * near, y + up * near), QPointF(x + across * far, y + up * far))
        painter.setFont(fonts.bold(self.font()))
        metrics = QFontMetricsF(painter.font())
        wide, tall = metrics.horizontalAdvance(self._text) + 20.0, metrics.height() + 8.0
        box = QRectF(min(x + RING_PX + 12.0, self.width() - wide - 8.0), y - tall - 6.0, wide, tall)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(colours.chosen))
        painter.drawRoundedRect(box, tall / 2, tall / 2)
        painter.setPen(QColor(colours.chosen_ink))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._text)
