"""Turns mouse, wheel and keys over the sheet into what the view does. The graphics library sees none of them.

Left drag turns the part, or drags the vent it began on; the other buttons move the picture; the wheel enlarges it where
the pointer is. Which button turns the part can be chosen.

A button may be let go where no window hears of it: over a dialog, in another window, while the system shows something
of its own. A drag whose end was missed ends where the vent was last seen; undo takes it back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QEvent, QObject, QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QNativeGestureEvent, QWheelEvent

from ventplanner.ui.view.eye import Eye, Side

if TYPE_CHECKING:
    from ventplanner.ui.view.view import View

Doing = Literal["", "pressed", "turning", "moving", "dragging", "cutting"]

_INTERRUPTIONS = (QEvent.Type.WindowDeactivate, QEvent.Type.WindowBlocked, QEvent.Type.Hide)

BEGINS_PX = 4.0
DEGREES_PER_PX = 0.4
LEVEL_DEGREES = 5.0
"""The view stays level until it is tilted by more than this, so that turning the part does not lose the chart."""

ARROW_DEGREES, ARROW_PX, KEY_ZOOM = 15.0, 40.0, 1.2

_SIDE_OF_KEY: dict[int, Side] = {
    Qt.Key.Key_1: "front",
    Qt.Key.Key_2: "back",
    Qt.Key.Key_3: "left",
    Qt.Key.Key_4: "right",
    Qt.Key.Key_5: "top",
    Qt.Key.Key_6: "bottom",
}
_ARROWS = {Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0), Qt.Key.Key_Up: (0, 1), Qt.Key.Key_Down: (0, -1)}


def settled(raw: float) -> float:
    """Elevation in degrees that a tilt leads to: 0 as long as it is small, then without a jump."""
    return 0.0 if abs(raw) <= LEVEL_DEGREES else raw - LEVEL_DEGREES * (1.0 if raw > 0 else -1.0)


def unsettled(elevation: float) -> float:
    """The tilt that leads to an elevation."""
    return 0.0 if elevation == 0.0 else elevation + LEVEL_DEGREES * (1.0 if elevation > 0 else -1.0)


class Gestures(QObject):
    """Filters the events of the sheet for its view."""

    def __init__(self, view: View) -> None:
        super().__init__(view)
        self._view = view
        self._doing: Doing = ""
        self._button = Qt.MouseButton.NoButton
        self._pressed_at = QPointF()
        self._began_with = Eye()
        self._began_on = ""
        self.turning_button = Qt.MouseButton.LeftButton
        self.away_is_larger = True

    @property
    def doing(self) -> Doing:
        """What the pressed button does at the moment."""
        return self._doing

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Take all input of the sheet."""
        kind = event.type()
        if isinstance(event, QMouseEvent):
            if kind == QEvent.Type.MouseButtonPress:
                self._pressed(event)
            elif kind == QEvent.Type.MouseMove:
                self._moved(event)
            elif kind == QEvent.Type.MouseButtonRelease:
                self._released(event)
            elif kind == QEvent.Type.MouseButtonDblClick:
                self._twice(event)
            return True
        if isinstance(event, QWheelEvent):
            self._wheel(event)
            return True
        if isinstance(event, QNativeGestureEvent):
            if event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
                place = event.position()
                self._view.look_from(self._view.eye.zoomed(1.0 + event.value(), place.x(), place.y()))
            return True
        if kind in _INTERRUPTIONS:
            self._let_go()
            return False
        if kind == QEvent.Type.Leave:
            self._view.hover(None)
            return True
        return kind == QEvent.Type.Enter

    def cancel(self) -> bool:
        """Stop a drag of a vent without letting it go at a new place; False if there is none."""
        if self._doing == "cutting":
            self._doing = ""
            self._view.cutting.let_go(back=True)
            return True
        if self._doing != "dragging":
            return False
        self._doing = ""
        self._view.end_drag(cancelled=True)
        return True

    def _pressed(self, event: QMouseEvent) -> None:
        self._view.setFocus(Qt.FocusReason.MouseFocusReason)
        if self._doing and (event.button() == self._button or not event.buttons() & self._button):
            self._let_go()
        if self._doing:
            return
        self._doing, self._button = "pressed", event.button()
        self._pressed_at, self._began_with = event.position(), self._view.eye
        self._began_on = ""
        if event.button() != Qt.MouseButton.LeftButton:
            return
        if self._view.tool == "look" and self._view.cutting.is_at(event.position().x(), event.position().y()):
            self._doing = "cutting"
            self._view.cutting.take()
        else:
            self._began_on = self._view.word_at(event.position())

    def _moved(self, event: QMouseEvent) -> None:
        place = event.position()
        if self._doing and not event.buttons() & self._button:
            self._let_go()
        if not self._doing:
            self._view.hover(place)
            return
        away = place - self._pressed_at
        if self._doing == "pressed":
            if abs(away.x()) + abs(away.y()) < BEGINS_PX:
                return
            self._doing = self._begun(event)
        if self._doing == "turning":
            start = self._began_with
            elevation = settled(unsettled(start.elevation) + away.y() * DEGREES_PER_PX)
            self._view.look_from(start.orbited(-away.x() * DEGREES_PER_PX, elevation - start.elevation))
        elif self._doing == "moving":
            self._view.look_from(self._began_with.panned(away.x(), away.y()))
        elif self._doing == "dragging":
            self._view.drag_vent(place)
        elif self._doing == "cutting":
            self._view.cutting.drag(away.x(), away.y())

    def _begun(self, event: QMouseEvent) -> Doing:
        shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self._began_on.startswith(("vent ", "proposal ")) and self._view.tool == "look":
            self._view.begin_drag(self._began_on)
            return "dragging"
        return "turning" if self._button == self.turning_button and not shifted else "moving"

    def _let_go(self) -> None:
        """The button is no longer held, or nobody will hear when it is let go."""
        doing, self._doing = self._doing, ""
        if doing == "dragging":
            self._view.end_drag()
        elif doing == "cutting":
            self._view.cutting.let_go()

    def _released(self, event: QMouseEvent) -> None:
        if event.button() != self._button:
            return
        doing, self._doing = self._doing, ""
        if doing == "pressed" and self._button == Qt.MouseButton.LeftButton:
            self._view.click(event.position())
        elif doing == "pressed" and self._button == Qt.MouseButton.RightButton:
            self._view.menu_wanted.emit(event.position())
        elif doing == "dragging":
            self._view.end_drag()
        elif doing == "cutting":
            self._view.cutting.let_go()
        self._view.hover(event.position())

    def _twice(self, event: QMouseEvent) -> None:
        on_handle = self._view.cutting.is_at(event.position().x(), event.position().y())
        if event.button() == Qt.MouseButton.LeftButton and self._view.tool == "look" and not on_handle:
            self._view.activated.emit(self._view.word_at(event.position()))

    def _wheel(self, event: QWheelEvent) -> None:
        turned = event.angleDelta().y() or event.angleDelta().x()
        if self._doing in ("dragging", "cutting") or not turned:
            return
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier and self._view.shown.section is not None:
            self._view.cutting.step(turned / 120.0)
            return
        place = event.position()
        turned = turned if self.away_is_larger else -turned
        self._view.look_from(self._view.eye.zoomed(1.0015**turned, place.x(), place.y()))


def key_pressed(view: View, event: QKeyEvent) -> bool:
    """What a key does in the view; False for keys that mean nothing here."""
    key, eye = event.key(), view.eye
    shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
    if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
        return False
    if key in _ARROWS:
        across, up = _ARROWS[Qt.Key(key)]
        if shifted:
            view.look_from(eye.panned(-across * ARROW_PX, up * ARROW_PX))
        else:
            view.look_from(eye.orbited(across * ARROW_DEGREES, up * ARROW_DEGREES))
    elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown) and view.cutting.section is not None:
        view.cutting.step(1.0 if key == Qt.Key.Key_PageUp else -1.0, fine=shifted)
    elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
        view.look_from(eye.zoomed(KEY_ZOOM))
    elif key in (Qt.Key.Key_Minus, Qt.Key.Key_Underscore):
        view.look_from(eye.zoomed(1.0 / KEY_ZOOM))
    elif key == Qt.Key.Key_0:
        view.fit()
    elif key == Qt.Key.Key_Home:
        view.level()
    elif key in _SIDE_OF_KEY:
        view.look(_SIDE_OF_KEY[key])
    elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and view.tool != "look":
        view.click(QPointF(0.5 * view.width(), 0.5 * view.height()))
    elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
        view.activated.emit(view.selected)
    elif key == Qt.Key.Key_Escape:
        return view.escape()
    else:
        return False
    return True
