"""Passages with the pointer: one is dragged by an end, its knee or its middle, or laid anew by two clicks.

While one is in hand, what stays round it is written beside it, or why it does not fit, with a cross at the place.
While a new one is laid, the left button is for it; the right one turns the part, unless another was chosen for that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QEvent, QObject, QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QWidget

from ventplanner.app.joining import named
from ventplanner.ui.units import diameter, sentence
from ventplanner.ui.view import picking
from ventplanner.ui.view.gestures import BEGINS_PX
from ventplanner.ui.view.passage_mark import PassageMark
from ventplanner.ui.view.sheet import Sheet
from ventplanner.ui.words import mm

if TYPE_CHECKING:
    from ventplanner.geometry.solid import FloatArray
    from ventplanner.plan.model import Passage
    from ventplanner.ui.panels.marking import Marking
    from ventplanner.ui.session import Session
    from ventplanner.ui.view.view import View
    from ventplanner.ui.work.laying import Trial

HOW = (
    "Click the hollow where the passage starts, then the one where it leads to, through the skin. Return takes the"
    " middle of the view, Esc stops this."
)
NO_HOLLOW = "There is no hollow under the pointer."
NEAR_PX = 14.0
WHOLE = -1

_ENDS = (QEvent.Type.WindowDeactivate, QEvent.Type.WindowBlocked, QEvent.Type.Hide)


@dataclass
class _Grip:
    """A passage that is pressed on. stop: what of it, by its number, or the whole. at: where that was, (3,)."""

    name: str
    stop: int
    at: FloatArray
    pressed: QPointF
    is_dragged: bool = False


class Laying(QObject):
    """`changed`: whether a new passage is laid."""

    changed = Signal()
    said = Signal(str)

    def __init__(self, session: Session, view: View, marking: Marking) -> None:
        super().__init__(view)
        self._session, self._view, self._marking = session, view, marking
        self._sheet: QWidget = view.findChild(Sheet) or view
        self.mark = PassageMark(view)
        self.is_on = False
        self._start: FloatArray | None = None
        self._grip: _Grip | None = None
        for watched in (self._sheet, view):
            watched.installEventFilter(self)
        for news in (session.changed, session.passage_tried, session.selection_changed):
            news.connect(self._show)

    def switch(self) -> str:
        """Lay a new passage from now on, or stop that; returns what to do."""
        if self.is_on:
            self._set_on(False)
            return ""
        if self._session.findings is None or self._session.stale:
            return ""
        self._view.set_tool("look")
        self._set_on(True)
        return HOW

    def give_up(self) -> bool:
        """Give up the passage in hand, else stop laying one; False if there is neither."""
        busy = self._session.passage_in_hand is not None or self._start is not None
        if not busy and not self.is_on:
            return False
        self._grip = self._start = None
        self._session.drop_passage()
        if not busy:
            self._set_on(False)
        return True

    def _set_on(self, on: bool) -> None:
        self.is_on, self._start = on, None
        self._session.drop_passage()
        self._view.hover(None)
        self._sheet.setCursor(Qt.CursorShape.CrossCursor if on else Qt.CursorShape.ArrowCursor)
        if on:
            self._view.setFocus()
        self.said.emit("")
        self.changed.emit()

    # What is shown

    def _show(self) -> None:
        """The passage in hand, else the handles of the selected one, else the place where a new one starts."""
        trial, findings, session = self._session.passage_in_hand, self._session.findings, self._session
        if findings is None or session.stale:
            self.mark.show_this(np.zeros((0, 3)))
            return
        selected = named(session.plan.passages, session.selected.removeprefix("passage "))
        passage = selected if trial is None else trial.passage
        stops = np.zeros((0, 3)) if passage is None else findings.scene.frame.to_build(np.array(passage.points_mm))
        if passage is None and self._start is not None:
            stops = self._start[None]
        if trial is None:
            self.mark.show_this(stops)
            return
        from ventplanner.ui.picturing import shown_legs

        legs = () if trial.passage is None else shown_legs(findings, (trial.passage,), "accepted")
        if trial.refusal:
            self.mark.show_this(trial.stops, (), read_out(trial), is_refused=True)
        else:
            self.mark.show_this(stops, legs, read_out(trial))

    # The pointer

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Take what lays or drags a passage, and leave the rest to the view."""
        if watched is self._view:
            return self._key(event)
        if event.type() in _ENDS and self._grip is not None:
            self._let_go()
        if not isinstance(event, QMouseEvent) or self._view.tool != "look" or self._marking.is_on:
            return False
        if self.is_on:
            return self._lay(event)
        kind = event.type()
        if kind == QEvent.Type.MouseButtonPress and event.button() == Qt.MouseButton.LeftButton:
            self._grip = self._gripped(event.position())
            if self._grip is not None:
                self._view.setFocus(Qt.FocusReason.MouseFocusReason)
            return self._grip is not None
        if self._grip is None:
            return False
        if kind == QEvent.Type.MouseMove and event.buttons() & Qt.MouseButton.LeftButton:
            self._drag(self._grip, event.position())
        elif kind in (QEvent.Type.MouseMove, QEvent.Type.MouseButtonRelease):
            self._let_go()
        return True

    def _key(self, event: QEvent) -> bool:
        if not self.is_on or not isinstance(event, QKeyEvent) or event.type() != QEvent.Type.KeyPress:
            return False
        if event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            return False
        self._click(QPointF(0.5 * self._view.width(), 0.5 * self._view.height()))
        return True

    def _lay(self, event: QMouseEvent) -> bool:
        left = event.button() == Qt.MouseButton.LeftButton
        if event.type() == QEvent.Type.MouseButtonPress and left:
            self._click(event.position())
        elif event.type() == QEvent.Type.MouseMove and event.buttons() == Qt.MouseButton.NoButton:
            self._aim(event.position())
        elif not left:
            return False
        return True

    def _click(self, place: QPointF) -> None:
        point = self._hollow(place)
        if point is None:
            self.said.emit(NO_HOLLOW)
        elif self._start is None:
            self._start = point
            self._show()
        else:
            self._session.lay_passage(self._start, point)
            self._set_off()

    def _set_off(self) -> None:
        """The second place is chosen: what fits there is taken, and the mode ends."""
        self.said.emit("")
        self._session.let_passage_go()
        self.is_on, self._start = False, None
        self._sheet.setCursor(Qt.CursorShape.ArrowCursor)
        self.changed.emit()

    def _aim(self, place: QPointF) -> None:
        point = None if self._start is None else self._hollow(place)
        if self._start is not None and point is not None:
            self._session.lay_passage(self._start, point)

    def _hollow(self, place: QPointF) -> FloatArray | None:
        aim = self._view.aim
        return None if aim is None else picking.hollow_at(self._view.shown, aim, place.x(), place.y())

    def _gripped(self, place: QPointF) -> _Grip | None:
        """What a press takes in hand: an accepted passage under the pointer, or a handle of the selected one."""
        session, findings, view = self._session, self._session.findings, self._view
        if findings is None or session.stale or view.cutting.is_at(place.x(), place.y()):
            return None
        here = np.array([place.x(), place.y()])
        selected = named(session.plan.passages, session.selected.removeprefix("passage "))
        if selected is not None:
            stops = findings.scene.frame.to_build(np.array(selected.points_mm))
            apart = np.linalg.norm(view.eye.to_screen(stops)[:, :2] - here, axis=1)
            if apart.min() <= NEAR_PX:
                return _Grip(selected.id, int(apart.argmin()), stops[int(apart.argmin())], place)
        word = view.word_at(place)
        passage = named(session.plan.passages, word.removeprefix("passage "))
        if passage is None or not word.startswith("passage "):
            return None
        stops = findings.scene.frame.to_build(np.array(passage.points_mm))
        pixels = view.eye.to_screen(stops)[:, :2]
        apart = np.linalg.norm(pixels - here, axis=1)
        nearest = int(apart.argmin())
        if apart[nearest] <= max(NEAR_PX, 0.25 * float(np.linalg.norm(pixels[-1] - pixels[0]))):
            return _Grip(passage.id, nearest, stops[nearest], place)
        return _Grip(passage.id, WHOLE, 0.5 * (stops[0] + stops[-1]), place)

    def _drag(self, grip: _Grip, place: QPointF) -> None:
        away = place - grip.pressed
        if not grip.is_dragged:
            if abs(away.x()) + abs(away.y()) < BEGINS_PX:
                return
            grip.is_dragged = True
            self._session.select(f"passage {grip.name}")
        # It stays as deep in the view as it was; the fit brings an end to the wall that it is put through.
        eye = self._view.eye
        moved = eye.under(away.x(), away.y()) - eye.under(0.0, 0.0)
        self._session.drag_passage(grip.name, grip.stop, np.asarray(grip.at + moved))

    def _let_go(self) -> None:
        grip, self._grip = self._grip, None
        if grip is None:
            return
        if grip.is_dragged:
            self._session.let_passage_go()
        else:
            self._session.select(f"passage {grip.name}")


def read_out(trial: Trial) -> str:
    """What is written beside the passage in hand."""
    if trial.refusal:
        return f"✕ does not fit: {sentence(trial.refusal)}"
    return "" if trial.passage is None else figures_of(trial.passage)


def figures_of(passage: Passage) -> str:
    """Its width, the least material round it, and its length."""
    round_it = f"{mm(passage.clearance_mm)} of material round it"
    return f"{passage.id} · {diameter(passage.diameter_mm)} · {round_it} · {mm(passage.length_mm)} long"
