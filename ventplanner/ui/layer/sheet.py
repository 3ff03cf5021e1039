"""The sheet of the layer view: the layer with the vents and letters over it, moved, enlarged and clicked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)  # fmt: skip
from PySide6.QtWidgets import QSizePolicy, QWidget

from ventplanner.geometry.solid import FloatArray, box_of
from ventplanner.ui.layer.overlay import Cut, Overlay, cuts_at
from ventplanner.ui.layer.plane import Plane
from ventplanner.ui.layer.states import WORDS
from ventplanner.ui.picture import Picture
from ventplanner.ui.view.colours import LIGHT, Colours

if TYPE_CHECKING:
    from ventplanner.app.layers import Layer

_BEGINS_PX, _ARROW_PX, _KEY_ZOOM, _PAGE = 4.0, 40.0, 1.2, 10
_STEPS = {
    Qt.Key.Key_PageUp: 1, Qt.Key.Key_PageDown: -1, Qt.Key.Key_Period: 1, Qt.Key.Key_Comma: -1
}  # fmt: skip
_ARROWS = {Qt.Key.Key_Left: (1, 0), Qt.Key.Key_Right: (-1, 0), Qt.Key.Key_Up: (0, 1), Qt.Key.Key_Down: (0, -1)}


class LayerSheet(QWidget):
    """`clicked` speaks like `Picture.selected`. `stepped` brings layers to go up or down, `ends` the first (-1) or the
    last (1) one."""

    clicked = Signal(str)
    stepped = Signal(int)
    ends = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("Layer from above")
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.plane = Plane()
        self.is_fitted = True
        self.notice = ""
        self._layer: Layer | None = None
        self._picture: Picture | None = None
        self._cuts: tuple[Cut, ...] = ()
        self._colours = LIGHT
        self._image: QImage | None = None
        self._away_is_larger = True
        self._doing: Literal["", "pressed", "moving"] = ""
        self._button = Qt.MouseButton.NoButton
        self._last = self._pressed_at = QPointF()

    # What is shown

    @property
    def layer(self) -> Layer | None:
        """The layer that is shown."""
        return self._layer

    @property
    def cuts(self) -> tuple[Cut, ...]:
        """The drills that this layer meets."""
        return self._cuts

    def show_layer(self, layer: Layer | None) -> None:
        """Show another layer; the place that is looked at stays."""
        self._layer = layer
        self._cut_drills()
        self._renew()

    def show_picture(self, picture: Picture | None) -> None:
        """The vents, the cavities and the selection."""
        before, self._picture = self._picture, picture
        if picture is not None and (before is None or before.part is not picture.part):
            self.is_fitted = True
        if self.is_fitted:
            self.fit()
        self._cut_drills()
        self._renew()

    def set_colours(self, colours: Colours) -> None:
        """Light or dark."""
        self._colours = colours
        self._renew()

    def set_wheel(self, away_is_larger: bool) -> None:
        """What the wheel turned away from the user does."""
        self._away_is_larger = away_is_larger

    def fit(self) -> None:
        """The whole part, in the middle."""
        self.is_fitted = True
        if self._picture is not None and len(self._picture.part.vertices):
            box = self._box()
            self.look(self.plane.fitted(box[0], box[1]), by_user=False)

    def fit_to(self, word: str) -> None:
        """A vent of this layer, or a cavity of it, as large as it goes; else the whole part."""
        box = self._box_of(word)
        if box is None:
            self.fit()
        else:
            self.look(self.plane.fitted(*box))

    def look(self, plane: Plane, by_user: bool = True) -> None:
        """Look there."""
        self.is_fitted = self.is_fitted and not by_user
        self.plane = plane
        self._renew()

    @property
    def over(self) -> Overlay:
        """What lies over the layer."""
        return Overlay(self.plane, self._colours, self._picture, self._layer, self._cuts, self.font(), self.height())

    def word_at(self, place: QPointF) -> str:
        """What is under a pixel: a vent, or a cavity that reaches there."""
        return self.over.word_at(place)

    def _told_at(self, place: QPointF, word: str) -> str:
        """What is under a pixel in words: the state, and whose it is."""
        cell = None if self._layer is None else self._layer.cell_at(*self.plane.to_mm(place.x(), place.y()))
        if self._layer is None or cell is None:
            return ""
        state = WORDS[int(self._layer.states[cell])]
        return f"{state}, {word.replace('proposal', 'proposed vent')}" if word else state

    def _cut_drills(self) -> None:
        self._cuts = () if self._layer is None else cuts_at(self._picture, self._layer.z)

    def _box(self) -> FloatArray:
        assert self._picture is not None
        return box_of(self._picture.part.vertices)

    def _box_of(self, word: str) -> tuple[FloatArray, FloatArray] | None:
        for cut in self._cuts:
            if cut.vent.word == word:
                room = 1.5 * cut.vent.diameter
                return cut.outline.min(axis=0) - room, cut.outline.max(axis=0) + room
        cavities = () if self._picture is None else self._picture.cavities
        at = next((k for k, c in enumerate(cavities) if word == f"cavity {c.id}"), -1)
        return None if self._layer is None or at < 0 else self._layer.box_of(at)

    # Painting

    def _renew(self) -> None:
        self._image = None
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The layer, then all that lies over it."""
        over, painter = self.over, QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(self._colours.paper))
        if self._layer is not None:
            if self._image is None:
                from ventplanner.ui.layer.painting import image_of

                ratio = self.devicePixelRatioF()
                self._image = image_of(self._layer, self.plane, self._colours, over.chosen_place, ratio)
            painter.drawImage(0, 0, self._image)
            over.paint(painter)
        if self.notice or self._layer is None:
            painter.setPen(QColor(self._colours.muted))
            painter.setFont(self.font())
            text = self.notice or "The layer is being made ready…"
            painter.drawText(QRectF(self.rect()).adjusted(12, 8, -12, -8), Qt.AlignmentFlag.AlignCenter, text)
        if self.hasFocus():
            pen = QPen(QColor(self._colours.ink), 1.0)
            pen.setDashPattern([2.0, 2.0])
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5))
        painter.end()

    # What is done in it

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Begin to move the picture, or a click."""
        if not self._doing:
            self._doing, self._button = "pressed", event.button()
            self._pressed_at = self._last = event.position()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Move the picture; without a button, tell what is there."""
        place = event.position()
        if self._doing and not event.buttons() & self._button:
            self._doing = ""  # let go where this window did not hear of it
        if not self._doing:
            word = self.word_at(place)
            self.setToolTip(self._told_at(place, word))
            self.setCursor(Qt.CursorShape.PointingHandCursor if word else Qt.CursorShape.ArrowCursor)
            return
        if self._doing == "pressed" and (place - self._pressed_at).manhattanLength() >= _BEGINS_PX:
            self._doing = "moving"
        if self._doing == "moving":
            away = place - self._last
            self._last = place
            self.look(self.plane.panned(away.x(), away.y()))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """A press that moved nothing was a click."""
        if event.button() != self._button:
            return
        doing, self._doing = self._doing, ""
        if doing == "pressed" and event.button() == Qt.MouseButton.LeftButton:
            self.clicked.emit(self.word_at(event.position()))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """What is there, as large as it goes."""
        self.fit_to(self.word_at(event.position()))

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Enlarge what is under the pointer, as in the view; with Shift go up and down by layers."""
        turned = event.angleDelta().y() or event.angleDelta().x()
        event.accept()
        if not turned:
            return
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.stepped.emit(1 if turned > 0 else -1)
            return
        turned = turned if self._away_is_larger else -turned
        place = event.position()
        self.look(self.plane.zoomed(1.0015**turned, place.x(), place.y()))

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Page keys go by layers, arrows move the picture, plus and minus enlarge, 0 fits."""
        key = Qt.Key(event.key())
        shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
            event.ignore()
        elif key in _STEPS:
            self.stepped.emit(_STEPS[key] * (_PAGE if shifted else 1))
        elif key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self.ends.emit(-1 if key == Qt.Key.Key_Home else 1)
        elif key in _ARROWS:
            across, down = _ARROWS[key]
            self.look(self.plane.panned(across * _ARROW_PX, down * _ARROW_PX))
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.look(self.plane.zoomed(_KEY_ZOOM))
        elif key in (Qt.Key.Key_Minus, Qt.Key.Key_Underscore):
            self.look(self.plane.zoomed(1.0 / _KEY_ZOOM))
        elif key == Qt.Key.Key_0:
            self.fit()
        else:
            event.ignore()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Keep the scale, or fit again if nobody moved the picture."""
        super().resizeEvent(event)
        self.plane = self.plane.resized(self.width(), self.height())
        self.fit() if self.is_fitted else self._renew()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Show the focus."""
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """The focus is gone."""
        super().focusOutEvent(event)
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """About square."""
        return QSize(360, 320)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Large enough to see a vent."""
        return QSize(150, 110)
