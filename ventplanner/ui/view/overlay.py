"""The transparent sheet over the viewport: everything that is drawn there is painted here, and no frame is rendered."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QPointF, QRect, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from ventplanner.ui.picture import ShownVent
from ventplanner.ui.view import drill_shape
from ventplanner.ui.view.draw_marks import draw_dragged, draw_face, draw_labels, draw_live, draw_notice, draw_vents
from ventplanner.ui.view.draw_room import draw_room
from ventplanner.ui.view.draw_section import draw_sections
from ventplanner.ui.view.labels import Label, placed
from ventplanner.ui.view.shown import Shown


class Overlay(QWidget):
    """Paints a `Shown`. It takes no input."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAttribute(Qt.WidgetAttribute.WA_NoSystemBackground)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.shown = Shown()
        self._labels: tuple[Label, ...] = ()

    def show_this(self, shown: Shown) -> None:
        """Paint this from now on."""
        self.shown = shown
        self._labels = placed(shown, QFontMetricsF(_bold(self.font())))
        self.update()

    def show_dragged(self, vent: ShownVent | None) -> None:
        """Another place of the drill in hand: only what it covers is painted again."""
        before = self._reach_of_dragged()
        if (vent is None) != (self.shown.dragged is None):
            self.show_this(replace(self.shown, dragged=vent))
            return
        self.shown = replace(self.shown, dragged=vent)
        self.update(before.united(self._reach_of_dragged()))

    def label_at(self, x: float, y: float) -> str:
        """The word of the label under a pixel, "" if there is none."""
        return next((label.word for label in self._labels if label.rect.contains(QPointF(x, y))), "")

    @property
    def labels(self) -> tuple[Label, ...]:
        """The labels and where they are."""
        return self._labels

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """From what is behind the part to what must be read."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        small = QFont(self.font())
        small.setPointSizeF(max(7.0, self.font().pointSizeF() * 0.9))
        painter.setFont(small)
        draw_room(painter, self.shown)
        draw_sections(painter, self.shown)
        draw_vents(painter, self.shown)
        draw_live(painter, self.shown)
        draw_labels(painter, self.shown, self._labels)
        draw_face(painter, self.shown)
        draw_dragged(painter, self.shown)
        draw_notice(painter, self.shown)
        painter.end()

    def _reach_of_dragged(self) -> QRect:
        if self.shown.dragged is None:
            return QRect()
        outline = drill_shape.outline(self.shown.dragged, self.shown.eye)
        low, high = outline.min(axis=0), outline.max(axis=0)
        # Room for the label to the right of it and above it.
        return QRect(int(low[0]) - 8, int(low[1]) - 48, int(high[0] - low[0]) + 270, int(high[1] - low[1]) + 64)


def _bold(font: QFont) -> QFont:
    bold = QFont(font)
    bold.setPointSizeF(max(7.0, font.pointSizeF() * 0.9))
    bold.setWeight(QFont.Weight.DemiBold)
    return bold
