"""Marking the surface to be kept clear with the pointer: brush, flood, single faces, all that is seen; and erasing.

While it is on, the left button paints where it is pressed on the part; beside the part it moves the picture, and the
right button turns it, unless another one was chosen for that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QObject, QPointF, Qt, Signal
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QWidget

from ventplanner.errors import ParameterError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.progress import Progress
from ventplanner.ui.view import picking
from ventplanner.ui.view.ring import Ring
from ventplanner.ui.view.sheet import Sheet
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.geometry.marking import Surface
    from ventplanner.ui.session import Session
    from ventplanner.ui.view.frames import Command
    from ventplanner.ui.view.stage import Stage
    from ventplanner.ui.view.view import View

Way = Literal["brush", "flood", "face"]

LEAST_MM, MOST_MM = 0.1, 100.0
"""Radius of the brush."""

STEP = 1.25
USUAL_SHARE = 0.05
"""The brush begins with this share of the part's largest side, to half a mm."""

HOW = "Drag over the part where no vent may be. Shift erases, [ ] size the brush, the right button turns, K ends this."
NOT_YET = "The part is being made ready for marking; a moment."

_ENDS = (QEvent.Type.WindowDeactivate, QEvent.Type.WindowBlocked, QEvent.Type.Hide)


@dataclass
class _Stroke:
    """A stroke from press to release. faces: those it came over so far."""

    flags: NDArray[np.bool_]
    erasing: bool
    last: QPointF
    faces: IntArray


class Marking(QObject):
    """`changed`: whether it is on, how it marks, the size, or what is marked."""

    changed = Signal()
    said = Signal(str)

    def __init__(self, session: Session, view: View) -> None:
        super().__init__(view)
        self._session, self._view = session, view
        self._sheet: QWidget = view.findChild(Sheet) or view
        self._ring = Ring(view)
        self._lane = Lane("marking", self)
        self._lane.done.connect(self._have)
        self._lane.failed.connect(lambda _, error: session.failed.emit(error, "The surface could not be marked"))
        self.is_on, self.way, self.erasing = False, "brush", False
        self._radius: float | None = None
        self._surface: tuple[object, Surface] | None = None
        self._stroke: _Stroke | None = None
        self._stroke_shown: list[IntArray | None] = [None]
        self._told: tuple[object, ...] = ()
        self._sheet.installEventFilter(self)
        session.changed.connect(self.follow)
        view.mapping_changed.connect(lambda _: self._show_ring(None))

    @property
    def radius(self) -> float:
        """Radius of the brush in mm."""
        if self._radius is None:
            low, high = self._view.shown.box
            return max(0.5, 0.5 * round(2.0 * USUAL_SHARE * float((high - low).max())))
        return self._radius

    @property
    def is_ready(self) -> bool:
        """Whether the part can be marked now."""
        return self._ready is not None

    @property
    def is_busy(self) -> bool:
        """Whether the part is being made ready, or looked at from a side."""
        return self._lane.is_busy

    @property
    def may_mark(self) -> bool:
        """Whether there is a part that is known as it hangs now."""
        return self._session.findings is not None and not self._session.stale

    @property
    def mask(self) -> FaceMask:
        """What is marked; of no part, no face."""
        state = self._session.state
        if state is None:
            return FaceMask.none_of(0)
        return state.keep_clear or FaceMask.none_of(len(state.solid.faces))

    def set_on(self, on: bool) -> None:
        """Mark with the pointer from now on, or look again."""
        on = on and self.may_mark
        self.give_up_stroke()
        self.is_on = on
        self._sheet.setCursor(Qt.CursorShape.CrossCursor if on else Qt.CursorShape.ArrowCursor)
        self._show_ring(None)
        if on:
            self._view.hover(None)
            self._make_ready()
            self._view.setFocus()
        self.said.emit(HOW if on else "")
        self.changed.emit()

    def set_way(self, way: Way) -> None:
        """What a press marks: what is under the brush, all up to the creases around, or one face."""
        self.way = way
        self._show_ring(None)
        self.changed.emit()

    def set_erasing(self, on: bool) -> None:
        """Erase instead of marking; Shift does the other thing."""
        self.erasing = on
        self.changed.emit()

    def check_radius(self, value: float) -> float:
        """The value, if a brush may be so large."""
        if not LEAST_MM <= value <= MOST_MM:
            raise ParameterError(f"A brush of {value:g} mm is out of range.", f"Give {LEAST_MM:g} to {MOST_MM:g} mm.")
        return value

    def set_radius(self, mm: float) -> None:
        """Another size of the brush."""
        self._radius = min(max(mm, LEAST_MM), MOST_MM)
        self._ring.set_radius(self._radius)
        self.changed.emit()

    def step_radius(self, steps: int) -> None:
        """A larger or smaller brush."""
        stepped = self.radius * STEP**steps
        self.set_radius(round(stepped, 1) if stepped >= 1.0 else round(stepped, 2))

    def mark_seen(self) -> None:
        """Mark all that is seen from here of the whole part; or erase it."""
        surface = self._ready
        if surface is None:
            self.said.emit(NOT_YET)
            return
        axes, part = self._view.eye.axes.copy(), self._told[:1]
        self._lane.ask(f"seen {axes.tolist()}", lambda _: (part, surface.seen(axes)))

    def clear(self) -> None:
        """Nothing is kept clear any more."""
        if self.mask:
            self._session.mark(FaceMask.none_of(self.mask.faces), "Keep nothing clear")

    def give_up(self) -> bool:
        """Give up the stroke, else end marking; False if it is not on."""
        if not self.give_up_stroke():
            if not self.is_on:
                return False
            self.set_on(False)
        return True

    def give_up_stroke(self) -> bool:
        """What was marked before it stays; False if there is no stroke."""
        stroke, self._stroke = self._stroke, None
        if stroke is not None:
            self._told = ()
            self.follow()
        return stroke is not None

    # What is shown

    def follow(self) -> None:
        """Show what is marked, on the part as it is drawn."""
        if self.is_on and not self.may_mark:
            self.set_on(False)
            return
        picture, mask = self._session.picture, self.mask
        fits = picture is not None and mask.faces == len(picture.part.faces)
        told = (picture.part.key if picture is not None and fits else "", mask.digest)
        if told == self._told or self._stroke is not None:
            return
        self._told = told
        vertices = picture.part.vertices if picture is not None else np.zeros((0, 3))
        faces = picture.part.faces[mask.chosen] if picture is not None and fits else np.zeros((0, 3), np.int32)
        self._draw(lambda stage: stage.hatch.show(vertices, faces))
        if self.is_on:
            self._make_ready()
        self.changed.emit()

    def _show_stroke(self, stroke: _Stroke) -> None:
        picture = self._session.picture
        if picture is None:
            return
        vertices, all_faces = picture.part.vertices, picture.part.faces

        def show(stage: Stage) -> None:
            # The newest of it: several steps may have come since the frame before.
            if self._stroke is stroke and stroke.faces is not shown[0]:
                shown[0] = stroke.faces
                stage.hatch.show_stroke(vertices, all_faces[stroke.faces], erasing=stroke.erasing)

        shown = self._stroke_shown
        self._draw(show)

    def _draw(self, command: Command) -> None:
        self._view.frames.tell(command)
        self._view.frames.draw_moving(self._view.shown)

    def _show_ring(self, place: QPointF | None, shifted: bool = False) -> None:
        if place is None or not self.is_on:
            self._ring.hide()
            return
        erasing = self.erasing != shifted
        self._ring.show_at(place, self.radius if self.way == "brush" else 0.0, "erase" if erasing else "")

    # Getting ready

    @property
    def _ready(self) -> Surface | None:
        findings = self._session.findings
        if findings is None or self._surface is None or self._surface[0] is not findings.scene or not self.may_mark:
            return None
        return self._surface[1]

    def _make_ready(self) -> None:
        findings = self._session.findings
        if findings is None or self._ready is not None:
            return
        scene = findings.scene

        def work(_: Progress) -> object:
            from ventplanner.geometry.marking import Surface

            _ready_for_rays = scene.ray_target
            return scene, Surface.of(scene.solid, scene.vertices)

        self._lane.ask(f"ready {id(scene)}", work)

    def _have(self, key: str, answer: object) -> None:
        assert isinstance(answer, tuple)
        if key.startswith("ready"):
            self._surface = answer
        elif answer[0] == self._told[:1]:
            seen: FaceMask = answer[1]
            erased = self.erasing
            mask = self.mask - seen if erased else self.mask | seen
            self._session.mark(mask, "May be cut: what was seen" if erased else "Keep clear what is seen")
        self.changed.emit()

    # The pointer

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Take what paints, and leave the rest to the view."""
        if not self.is_on or self._view.tool != "look":
            return False
        if isinstance(event, QMouseEvent):
            return self._mouse(event)
        if event.type() in _ENDS:
            self._end()
        elif event.type() == QEvent.Type.Leave:
            self._show_ring(None)
        return False

    def _mouse(self, event: QMouseEvent) -> bool:
        kind, place = event.type(), event.position()
        shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        left = event.button() == Qt.MouseButton.LeftButton
        if kind in (QEvent.Type.MouseButtonPress, QEvent.Type.MouseButtonDblClick) and left:
            self._end()
            return self._begin(place, erasing=self.erasing != shifted)
        if kind == QEvent.Type.MouseMove:
            self._show_ring(place, shifted)
            if self._stroke is None:
                return event.buttons() == Qt.MouseButton.NoButton
            if event.buttons() & Qt.MouseButton.LeftButton:
                self._go_on(self._stroke, place)
            else:
                self._end()
            return True
        if kind == QEvent.Type.MouseButtonRelease and left and self._stroke is not None:
            self._end()
            return True
        return self._stroke is not None

    def _begin(self, place: QPointF, *, erasing: bool) -> bool:
        if self._hit(place) is None:
            return False  # beside the part: it is turned
        self._view.setFocus(Qt.FocusReason.MouseFocusReason)
        if self._ready is None:
            self.said.emit(NOT_YET)
            return True
        self._stroke = _Stroke(self.mask.flags.copy(), erasing, place, np.zeros(0, np.int32))
        self._stroke_shown = [None]
        self._paint(self._stroke, [place])
        return True

    def _go_on(self, stroke: _Stroke, place: QPointF) -> None:
        """Along the way of the pointer, so that quick strokes have no gaps."""
        away = place - stroke.last
        length = float(np.hypot(away.x(), away.y()))
        step = max(3.0, 0.5 * self.radius / self._view.eye.mm_per_px) if self.way == "brush" else 8.0
        count = int(min(np.ceil(length / step), 16))
        if count == 0:
            return
        self._paint(stroke, [stroke.last + away * ((k + 1) / count) for k in range(count)])
        stroke.last = place

    def _paint(self, stroke: _Stroke, places: list[QPointF]) -> None:
        surface = self._ready
        if surface is None:
            return
        fresh: list[IntArray] = []
        for place in places:
            hit = self._hit(place)
            if hit is None:
                continue
            found = self._chosen(surface, *hit)
            found = found[stroke.flags[found] == stroke.erasing]
            stroke.flags[found] = not stroke.erasing
            fresh.append(found)
        if any(len(found) for found in fresh):
            stroke.faces = np.concatenate((stroke.faces, *fresh))
            self._show_stroke(stroke)

    def _chosen(self, surface: Surface, face: int, point: FloatArray) -> IntArray:
        if self.way == "face":
            return np.array([face], np.int32)
        return surface.flood(face) if self.way == "flood" else surface.brush(face, point, self.radius)

    def _end(self) -> None:
        """The button was let go: the stroke is one edit."""
        stroke, self._stroke = self._stroke, None
        if stroke is None:
            return
        self._told = ()
        if len(stroke.faces):
            name = "Erase what is kept clear" if stroke.erasing else "Keep clear"
            self._session.mark(FaceMask.of(stroke.flags), name)
        self.follow()

    def _hit(self, place: QPointF) -> tuple[int, FloatArray] | None:
        findings = self._session.findings
        if findings is None or self._session.stale:
            return None
        return picking.face_at(self._view.shown, findings.scene.ray_target, place.x(), place.y())

    def close_down(self) -> None:
        """End the thread."""
        self._lane.close()
