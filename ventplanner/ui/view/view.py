"""`View`: the part with its cavities and vents, to be looked at from all sides, clicked and dragged."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from PySide6.QtCore import QPointF, Qt, Signal, Slot
from PySide6.QtGui import QCloseEvent, QImage, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QWidget

from ventplanner.ui.picture import Picture, ShownVent
from ventplanner.ui.view import drill_shape, picking
from ventplanner.ui.view.colours import Colours
from ventplanner.ui.view.cutting import Cutting
from ventplanner.ui.view.draw_room import RULER_PX
from ventplanner.ui.view.eye import Eye, Side
from ventplanner.ui.view.frames import Frame, Frames
from ventplanner.ui.view.gestures import Gestures, key_pressed
from ventplanner.ui.view.section import Section
from ventplanner.ui.view.sheet import Sheet
from ventplanner.ui.view.shown import (
    Shown,
    description,
    has_other_place,
    notice_of,
    place_of,
    section_kept,
)
from ventplanner.ui.view.surfaces import Cuts, Surfaces
from ventplanner.ui.view.turning import kept_height

Tool = Literal["look", "face", "vent"]

MARGINS = (RULER_PX + 24, 72, 30, 64)
"""Pixels kept free round the part when it is fitted: left, top, right, bottom."""


class View(QWidget):
    """The 3-D view. All signals speak of build axes, in mm; words are those of `Picture.selected`.

    The signals of a drag say the word of what was taken in hand, such as "proposal 3", also when the drag has made a
    vent of it meanwhile.
    """

    clicked = Signal(str)
    activated = Signal(str)
    drag_started = Signal(str)
    dragged = Signal(str, object, object)
    drag_ended = Signal(str)
    drag_cancelled = Signal(str)
    face_picked = Signal(object)
    vent_placed = Signal(object)
    menu_wanted = Signal(QPointF)
    mapping_changed = Signal(object)
    section_changed = Signal(object)
    frame_drawn = Signal(float)
    shapes_shown = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Part")
        self._sheet = Sheet(self)
        self.frames = Frames(self)
        self.frames.ready.connect(self._have_frame)
        self._gestures = Gestures(self)
        self._sheet.installEventFilter(self._gestures)
        self._surfaces = Surfaces(self.frames, self)
        self._surfaces.taken.connect(self._have_surfaces)
        self._surfaces.outlined.connect(self._have_outlines)
        self._shown = Shown()
        self._tool: Tool = "look"
        self.is_fitted = True
        self._known_plate: bytes | None = None
        self._grabbed: tuple[ShownVent, bool] | None = None
        self._grabbed_word, self._is_over_handle = "", False
        self.cutting = Cutting(self)

    # What is shown

    @property
    def eye(self) -> Eye:
        """Where the view looks from."""
        return self._shown.eye

    @property
    def shown(self) -> Shown:
        """All that is drawn over the frame."""
        return self._shown

    @property
    def selected(self) -> str:
        """The selection that is shown."""
        return self._shown.picture.selected if self._shown.picture else ""

    @property
    def tool(self) -> Tool:
        """What a click does."""
        return self._tool

    @property
    def aim(self) -> picking.Aim | None:
        """For rays to what is drawn; None while they would not hit what is seen."""
        return self._surfaces.aim

    @property
    def is_busy(self) -> bool:
        """True while surfaces or a frame are still being made."""
        return self._surfaces.is_busy or not self.frames.is_resting

    def show_picture(self, picture: Picture | None) -> None:
        """Show a picture; only what differs from the one before is made anew."""
        before = self._shown.picture
        printed, section = self._shown.printed, self._shown.section
        kept = kept_height(printed, before, picture), section_kept(section, before, picture)
        self._shown = replace(self._shown, picture=picture, printed=kept[0], section=kept[1])
        self._surfaces.follow(picture)
        if picture is not None and has_other_place(before, picture, self.is_fitted):
            self.fit()
        if kept != (printed, section):
            self._cut()
        if kept[1] != section:
            self.section_changed.emit(kept[1])
        self.setAccessibleDescription(description(picture))
        self._restage()

    def set_colours(self, colours: Colours) -> None:
        """Light or dark."""
        self._shown = replace(self._shown, colours=colours)
        self._surfaces.set_colours(colours)
        self._surfaces.paint()
        self.frames.draw(self._shown)
        self._restage()

    def set_hanging(self, hanging: bool) -> None:
        """Plate on top, as in the printer, or plate side down."""
        if hanging != self.eye.hanging:
            self._shown = replace(self._shown, eye=self.eye.turned_over(hanging))
            self.fit() if self.is_fitted else self.look_from(self.eye, by_user=False)

    def set_printed(self, height: float | None) -> None:
        """Show only what is printed up to a build height; None shows the whole part."""
        if height != self._shown.printed:
            self._shown = replace(self._shown, printed=height)
            self._cut()

    def set_section(self, section: Section | None) -> None:
        """Cut the part by one free plane."""
        if section != self._shown.section:
            self._shown = replace(self._shown, section=section)
            self._cut()
            self.section_changed.emit(section)

    def hold_changed(self) -> None:
        """The pointer came to the handle of the plane or left it, took it or let it go."""
        on_handle = self.cutting.is_held or self._is_over_handle
        if on_handle != self._shown.on_handle:
            self.sheet_shows(on_handle=on_handle)

    def set_tool(self, tool: Tool) -> None:
        """ "look"; or the next click picks the "face" that goes to the plate, or the place of a new "vent"."""
        self._tool = tool
        self.hover(None)
        self._sheet.setCursor(Qt.CursorShape.ArrowCursor if tool == "look" else Qt.CursorShape.CrossCursor)

    def set_mouse(self, turning: Qt.MouseButton, away_is_larger: bool) -> None:
        """Which mouse button turns the part, the others move it; what the wheel turned away from the user does."""
        self._gestures.turning_button, self._gestures.away_is_larger = turning, away_is_larger

    def show_overlay(self, vent: ShownVent) -> None:
        """The dragged drill as it was fitted."""
        if self._grabbed is not None and self._gestures.doing == "dragging":
            self._grabbed = (vent, True)
            if not self._shown.refusal:
                self._drag_shows(vent)

    def show_refusal(self, reason: str) -> None:
        """Why the dragged drill cannot be where it is, "no cavity is behind the wall"; "" if it can."""
        reason = reason if self._grabbed is not None else ""
        if reason != self._shown.refusal:
            self.sheet_shows(refusal=reason)

    # Where it is looked at from

    def look_from(self, eye: Eye, by_user: bool = True) -> None:
        """Look from there."""
        self.is_fitted = self.is_fitted and not by_user
        self._shown = replace(self._shown, eye=eye)
        self._show_plate()
        self.frames.draw_moving(self._shown)
        self.mapping_changed.emit(eye.mapping)

    def turn_to(self, eye: Eye) -> None:
        """Look from there; a part that was fitted stays fitted."""
        self.look_from(eye, by_user=not self.is_fitted)
        if self.is_fitted:
            self.fit()

    def level(self) -> None:
        """Level the view with the whole part in it, so that the chart beside it has its scale again."""
        self.look_from(self.eye.levelled(), by_user=False)
        self.fit()

    def fit(self) -> None:
        """The whole part with its plate, as large as it goes."""
        if self._shown.picture is None:
            return
        eye = self.eye.resized(self.width(), self.height())
        self.look_from(self._shown.fitted(MARGINS, eye), by_user=False)
        self.is_fitted = True

    def fit_to(self, word: str) -> None:
        """What a selection means, "vent 3" or "cavity A", as large as it goes; the whole part if it has no place."""
        box = place_of(self._shown.picture, word)
        if box is None:
            self.fit()
            return
        self.look_from(self.eye.fitted(*box, MARGINS))

    def look(self, side: Side) -> None:
        """The whole part from one side."""
        self.look_from(self.eye.looking(side), by_user=False)
        self.fit()

    def zoom_at_row(self, factor: float, row: float) -> None:
        """Enlarge by a factor; the height at this row of pixels stays where it is."""
        self.look_from(self.eye.zoomed(factor, None, row))

    def pan_rows(self, rows: float) -> None:
        """Move the picture down by pixels."""
        self.look_from(self.eye.panned(0.0, rows))

    def grab_image(self) -> QImage:
        """The view as it is on the screen."""
        return self.grab().toImage()

    # What is done in it

    def word_at(self, place: QPointF) -> str:
        """What is under a pixel."""
        x, y = place.x(), place.y()
        if self._shown.picture is None:
            return ""
        label = self._sheet.label_at(x, y)
        if label:
            return label
        vent = picking.vent_at(self._shown, x, y)
        if vent is not None:
            return vent.word
        aim, is_named = self.aim, self._surfaces.has_names
        name = picking.cavity_at(self._shown, aim, x, y) if aim is not None and is_named else ""
        return f"cavity {name}" if name else ""

    def hover(self, place: QPointF | None) -> None:
        """The pointer is there, with no button pressed."""
        if self._tool != "look":
            hit = self.hit(place) if place is not None else None
            if hit is not None or self._shown.face is not None:
                self.sheet_shows(face=None if hit is None else (hit.point, hit.normal))
            return
        self._is_over_handle = place is not None and self.cutting.is_at(place.x(), place.y())
        self.hold_changed()
        if self._is_over_handle:
            self._sheet.setCursor(Qt.CursorShape.OpenHandCursor)
            self.sheet_shows(hovered="", face=None)
            return
        if self._sheet.cursor().shape() == Qt.CursorShape.OpenHandCursor:
            self._sheet.setCursor(Qt.CursorShape.ArrowCursor)
        word = self.word_at(place) if place is not None else ""
        if word != self._shown.hovered or self._shown.face is not None:
            self._sheet.setCursor(Qt.CursorShape.PointingHandCursor if word else Qt.CursorShape.ArrowCursor)
            self.sheet_shows(hovered=word, face=None)

    def click(self, place: QPointF) -> None:
        """A click that was no drag."""
        if self._tool == "look":
            self.clicked.emit(self.word_at(place))
            return
        hit, tool = self.hit(place), self._tool
        if hit is not None:
            self.set_tool("look")
            self.face_picked.emit(hit.normal) if tool == "face" else self.vent_placed.emit(hit)

    def escape(self) -> bool:
        """Give up the drag or the tool; False if there is nothing to give up."""
        if self._gestures.cancel():
            return True
        was_look = self._tool == "look"
        if not was_look:
            self.set_tool("look")
        return not was_look

    def begin_drag(self, word: str) -> None:
        """A vent is taken in hand."""
        vent = picking.vent_named(self._shown, word)
        if vent is not None:
            self._grabbed, self._grabbed_word = (vent, False), word
            self.drag_started.emit(word)
            self._drag_shows(vent)
            self._restage()

    def drag_vent(self, place: QPointF) -> None:
        """The vent in hand is over a pixel. Nothing is rendered; off the skin nothing happens."""
        hit = self.hit(place)
        if self._grabbed is None or hit is None or hit.group >= 0:
            return
        vent, is_fitted = self._grabbed
        moved = drill_shape.carried(vent, hit.point) if is_fitted else drill_shape.upright(vent, hit.point, hit.normal)
        self._drag_shows(moved)
        self.dragged.emit(self._grabbed_word, hit.point, hit.normal)

    def end_drag(self, cancelled: bool = False) -> None:
        """The vent in hand is let go, or goes back."""
        self._drag_shows(None)
        self._restage()
        grabbed, self._grabbed = self._grabbed, None
        self.show_refusal("")
        if grabbed is not None:
            (self.drag_cancelled if cancelled else self.drag_ended).emit(self._grabbed_word)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Arrows, plus and minus, digits for the sides, Return, Escape."""
        if not key_pressed(self, event):
            event.ignore()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Keep the scale, or fit again if nobody moved the picture."""
        super().resizeEvent(event)
        self._sheet.resize(self.size())
        self.frames.resize(self.width(), self.height(), self.devicePixelRatioF())
        if self.is_fitted and self._shown.picture is not None:
            self.fit()
        else:
            self.look_from(self.eye.resized(self.width(), self.height()), by_user=False)

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Give back what the graphics library holds, then close."""
        self.shut_down()
        super().closeEvent(event)

    def shut_down(self) -> None:
        """End the threads and the render window. The view shows no new picture after that."""
        self._surfaces.close()
        self.frames.close()

    # How it gets there

    @Slot(object)
    def _have_frame(self, frame: Frame) -> None:
        self._sheet.show_frame(frame)
        self.frame_drawn.emit(frame.ms)

    @Slot()
    def _have_surfaces(self) -> None:
        self._cut()
        self._restage()
        if self._surfaces.is_there and not self._surfaces.is_turned:
            self.shapes_shown.emit()

    @Slot(object)
    def _have_outlines(self, cuts: Cuts) -> None:
        self.sheet_shows(cuts=cuts)
        self.frames.draw(self._shown)

    def hit(self, place: QPointF) -> picking.Hit | None:
        """The place of the part under a pixel, None where there is none."""
        return picking.hit_at(self._shown, self.aim, place.x(), place.y()) if self.aim is not None else None

    def _restage(self) -> None:
        """Colours of cavities and drills that are not cut yet, as far as they changed; then all that is painted."""
        if any((self._surfaces.paint(), self._show_plate())):
            self.frames.draw_moving(self._shown) if self._grabbed else self.frames.draw(self._shown)
        self.sheet_shows(notice=notice_of(self._shown.picture, self._surfaces.is_there, self._surfaces.is_turned))

    def _cut(self) -> None:
        """Cut the picture: planes in the frame, outlines painted over it."""
        self.sheet_shows(cuts=self._surfaces.cut(self._shown.sections))
        self.frames.draw_moving(self._shown)

    def sheet_shows(self, **changes: object) -> None:
        """Paint this, fields of `Shown`, over the frame."""
        self._shown = replace(self._shown, **changes)  # type: ignore[arg-type]
        self._sheet.show_this(self._shown)

    def _drag_shows(self, vent: ShownVent | None) -> None:
        self._surfaces.hold("" if vent is None else vent.word)
        self._shown = replace(self._shown, dragged=vent)
        self._sheet.show_dragged(vent)

    def _show_plate(self) -> bool:
        """Tell the stage about the plate; False if it is where it was."""
        corners = self._shown.plate
        known = None if corners is None else corners.tobytes()
        if known == self._known_plate:
            return False
        self._known_plate = known
        self.frames.tell(lambda stage: stage.set_plate(corners))
        return True
