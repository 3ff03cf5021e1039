"""What is on the screen: the last frame, and over it everything that is painted and needs no frame of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QLinearGradient, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from ventplanner.ui.picture import ShownVent
from ventplanner.ui.view import drill_shape, fonts
from ventplanner.ui.view.draw_marks import draw_dragged, draw_face, draw_labels, draw_live, draw_notice, draw_vents
from ventplanner.ui.view.draw_plane import draw_frame, draw_handle
from ventplanner.ui.view.draw_room import draw_room
from ventplanner.ui.view.draw_section import draw_sections
from ventplanner.ui.view.draw_streams import draw_hints, draw_streams
from ventplanner.ui.view.frames import Frame
from ventplanner.ui.view.labels import Label, placed
from ventplanner.ui.view.shown import Shown


class Sheet(QWidget):
    """Paints a frame and a `Shown` over it.

    Where they disagree about where one looks from, how the part is turned and how it is cut, the frame is right: the
    next one is on its way, and until then everything moves together.
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._wanted = Shown()
        self.shown = Shown()
        self._frame: Frame | None = None
        self._labels: tuple[Label, ...] = ()
        self._painted: tuple[object, ...] = ()

    @property
    def frame(self) -> Frame | None:
        """The frame that is on the screen."""
        return self._frame

    @property
    def labels(self) -> tuple[Label, ...]:
        """The labels and where they are."""
        return self._labels

    def show_frame(self, frame: Frame) -> None:
        """Another frame."""
        self._frame = frame
        self._painted = ()
        self._agree()

    def show_this(self, shown: Shown) -> None:
        """Paint this over the frame from now on."""
        self._wanted = shown
        self._agree()

    def show_dragged(self, vent: ShownVent | None) -> None:
        """Another place of the drill in hand: only what it covers is painted again."""
        before = self._reach_of_dragged()
        was_there = self._wanted.dragged is not None
        self._wanted = replace(self._wanted, dragged=vent)
        if (vent is not None) != was_there:
            self._agree()
            return
        self.shown = replace(self.shown, dragged=vent)
        self.update(before.united(self._reach_of_dragged()))

    def label_at(self, x: float, y: float) -> str:
        """The word of the label under a pixel, "" if there is none."""
        return next((label.word for label in self._labels if label.rect.contains(QPointF(x, y))), "")

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """From what is behind the part to what must be read."""
        painter = QPainter(self)
        painter.setClipRegion(event.region())
        self._paint_frame(painter)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(fonts.small(self.font()))
        draw_room(painter, self.shown)
        draw_sections(painter, self.shown)
        draw_frame(painter, self.shown)
        draw_streams(painter, self.shown)
        draw_hints(painter, self.shown)
        draw_vents(painter, self.shown)
        draw_live(painter, self.shown)
        draw_labels(painter, self.shown, self._labels)
        draw_handle(painter, self.shown)
        draw_face(painter, self.shown)
        draw_dragged(painter, self.shown)
        draw_notice(painter, self.shown)
        painter.end()

    def _paint_frame(self, painter: QPainter) -> None:
        frame, colours = self._frame, self.shown.colours
        if frame is not None:
            # One of another size is stretched for the moment that it takes to make the right one.
            painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
            painter.drawImage(QRectF(self.rect()), frame.image)
            return
        sky = QLinearGradient(0, 0, 0, self.height())
        sky.setColorAt(0.0, QColor(colours.sky))
        sky.setColorAt(1.0, QColor(colours.ground))
        painter.fillRect(self.rect(), sky)

    def _agree(self) -> None:
        wanted, frame = self._wanted, self._frame
        seen = frame.shown if frame is not None else wanted
        is_mine = (seen.eye.width, seen.eye.height) == (self.width(), self.height())
        if is_mine and wanted.picture is not None and seen.picture is not None:
            if seen.picture.part.key != wanted.picture.part.key:
                # Labels of another pose, or of another part, would point at nothing.
                wanted = replace(wanted, picture=seen.picture, hovered="", dragged=None)
            wanted = replace(wanted, eye=seen.eye, printed=seen.printed, section=seen.section, cuts=seen.cuts)
            wanted = replace(wanted, laid=seen.laid)
        before, painted = self._reach_of_dragged(), (self.font().key(), *wanted.painted)
        self.shown = wanted
        if len(painted) > 1 and painted == self._painted:  # a step of a drag that changes nothing else
            self.update(before.united(self._reach_of_dragged()))
            return
        self._painted = painted
        self._labels = placed(wanted, QFontMetricsF(fonts.bold(self.font())))
        self.update()

    def _reach_of_dragged(self) -> QRect:
        if self.shown.dragged is None:
            return QRect()
        if self.shown.refusal:
            return self.rect()
        outline = np.concatenate(drill_shape.outlines(self.shown.dragged, self.shown.eye))
        low, high = outline.min(axis=0), outline.max(axis=0)
        # Room for the label to the right of it and above it.
        return QRect(int(low[0]) - 8, int(low[1]) - 48, int(high[0] - low[0]) + 270, int(high[1] - low[1]) + 64)
