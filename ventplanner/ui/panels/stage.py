"""The middle of the window: the view with the chart beside it, or what is shown instead until there is one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import QApplication, QHBoxLayout, QSplitter, QVBoxLayout, QWidget

from ventplanner.ui.layer.panel import LayerPanel
from ventplanner.ui.panels.cut_bar import CutBar
from ventplanner.ui.panels.fields import label
from ventplanner.ui.panels.mark_bar import MarkBar
from ventplanner.ui.panels.placing import Placing
from ventplanner.ui.panels.still import keeping_still
from ventplanner.ui.panels.tools import Tools
from ventplanner.ui.units import system
from ventplanner.ui.view.colours import DARK, LIGHT

if TYPE_CHECKING:
    from ventplanner.geometry.solid import FloatArray
    from ventplanner.plan.model import Point
    from ventplanner.ui.chart import Chart
    from ventplanner.ui.chart_scale import Quantity
    from ventplanner.ui.panels.laying import Laying
    from ventplanner.ui.panels.marking import Marking
    from ventplanner.ui.preferences import Button
    from ventplanner.ui.session import Session
    from ventplanner.ui.view.place_mark import PlaceMark
    from ventplanner.ui.view.section import Section
    from ventplanner.ui.view.view import View

CHART_WIDTH = 168
WATCHER = "chart"
BESIDE_WIDTH = 880
"""Where the stage is at least so wide, the layers stand beside the view, else below it."""

BUTTONS = {
    "left": Qt.MouseButton.LeftButton,
    "middle": Qt.MouseButton.MiddleButton,
    "right": Qt.MouseButton.RightButton,
}


class Stage(QWidget):
    """Gives the view and the chart the session's picture, and the session what was clicked and dragged."""

    face_mode_ended = Signal()
    said = Signal(str)
    marking_changed = Signal()
    """How the surface to be kept clear is marked, or what is marked, is another now."""
    quantity_changed = Signal()
    """What the chart shows is another now, or whether as printed."""
    section_changed = Signal(bool)
    """Whether the picture is cut open; told again when the plane turns, not when it only moves."""

    def __init__(self, session: Session, actions: dict[str, QAction]) -> None:
        super().__init__()
        self._session = session
        self.view: View | None = None
        self.chart: Chart | None = None
        self.place_mark: PlaceMark | None = None
        self.placing: Placing | None = None
        self.marking: Marking | None = None
        self.laying: Laying | None = None
        self.tools = Tools(session, actions)
        self.cut_bar = CutBar(actions)
        self.mark_bar = MarkBar(session, actions)
        for bar in (self.cut_bar, self.mark_bar):
            bar.hide()
        self._cut_told: Point | None = None
        self._hanging = self._dark = False
        self._mouse: tuple[Button, bool] = "left", True
        self._row = QHBoxLayout()
        self._row.setSpacing(0)
        self._place = _Waiting("The view is being made ready…")
        self._row.addWidget(self._place, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.tools)
        column.addWidget(self.cut_bar)
        column.addWidget(self.mark_bar)
        self._row.setContentsMargins(0, 0, 0, 0)
        upper = QWidget()
        upper.setLayout(self._row)
        self.layers = LayerPanel(session, actions)
        self.layers.hide()
        self.layers.height_asked.connect(self.set_printed)
        self.layers.printed_chosen.connect(self._follow_printed)
        self._told: tuple[object, ...] = ()
        self._height_before: tuple[float | None, float | None] = None, None
        self._split = QSplitter(Qt.Orientation.Vertical)
        self._split.setHandleWidth(1)
        self._split.setChildrenCollapsible(False)
        for panel in (upper, self.layers):
            self._split.addWidget(panel)
        column.addWidget(self._split, 1)
        for news in (session.changed, session.stepped):
            news.connect(self.show_session)

    def install(self, view: View, chart: Chart) -> None:
        """Put the view and the chart in their place."""
        self.view, self.chart = view, chart
        self._row.replaceWidget(self._place, view)
        self._place.hide()
        self._place.deleteLater()
        self._row.setStretchFactor(view, 1)
        chart.setFixedWidth(CHART_WIDTH)
        self._row.addWidget(chart)
        self._connect(view, chart)
        view.set_hanging(self._hanging)
        chart.set_hanging(self._hanging)
        chart.set_as_printed(self.layers.printed_wanted)
        self.set_dark(self._dark)
        self.set_mouse(*self._mouse)
        self.cut_bar.follow(view.cutting)
        self.show_session()

    def _connect(self, view: View, chart: Chart) -> None:
        session = self._session
        view.clicked.connect(session.select)
        view.activated.connect(self._activated)
        view.drag_started.connect(self._drag_started)
        view.dragged.connect(self._dragged)
        view.drag_ended.connect(lambda _vent: session.drag_end())
        view.drag_cancelled.connect(lambda _vent: session.drag_cancel())
        view.face_picked.connect(self._face_picked)
        view.mapping_changed.connect(chart.set_mapping)
        view.section_changed.connect(self._section_moved)
        chart.printed_dragged.connect(view.set_printed)
        chart.printed_dragged.connect(self.layers.set_height)
        chart.zoomed.connect(view.zoom_at_row)
        chart.panned.connect(view.pan_rows)
        chart.clicked.connect(session.select)
        chart.wanted.connect(self.set_quantity)
        chart.source_wanted.connect(self.layers.set_printed)
        from ventplanner.ui.view.place_mark import PlaceMark  # comes with the view, which the start does not wait for

        self.place_mark = PlaceMark(view)
        self.placing = Placing(session, view)
        from ventplanner.ui.panels.marking import Marking

        self.marking = Marking(session, view)
        self.marking.changed.connect(self._marking_changed)
        self.marking.said.connect(self.said)
        self.mark_bar.follow(self.marking)
        from ventplanner.ui.panels.laying import Laying

        self.laying = Laying(session, view, self.marking)
        self.laying.changed.connect(self._laying_changed)
        self.laying.said.connect(self.said)
        session.passage_tried.connect(lambda: self._show_dragged(view))
        session.place_wanted.connect(self._show_place)
        for gone in (session.selection_changed, session.findings_changed, session.part_changed):
            gone.connect(self.place_mark.clear)

    def show_session(self) -> None:
        """Show the session's picture."""
        if self.view is not None and self.chart is not None:
            picture = self._session.picture
            if not self._told or self._told[0] is not picture or self._told[1] != system():
                self._told = picture, system()
                self.view.show_picture(picture)
                self.chart.show_picture(picture)
            self._show_dragged(self.view)

    @property
    def quantity(self) -> str:
        """What the chart shows: "area", "suction" or "force"."""
        return "area" if self.chart is None else self.chart.quantity

    def set_quantity(self, quantity: Quantity) -> None:
        """Let the chart show this."""
        if self.chart is not None:
            self.chart.set_quantity(quantity)
            self.quantity_changed.emit()

    def _follow_printed(self, as_printed: bool) -> None:
        """The chart shows the model or as printed as the layers do; it is always looked at."""
        self._session.watch_printed(WATCHER, as_printed)
        if self.chart is not None:
            self.chart.set_as_printed(as_printed)
        self.quantity_changed.emit()

    @property
    def hanging(self) -> bool:
        """Whether the part is shown as it hangs in the printer."""
        return self._hanging

    def set_hanging(self, hanging: bool) -> None:
        """Show the part as it hangs in the printer, or as it stands."""
        self._hanging = hanging
        if self.view is not None and self.chart is not None:
            self.view.set_hanging(hanging)
            self.chart.set_hanging(hanging)
        self.layers.set_hanging(hanging)

    def look_afresh(self) -> None:
        """Another part: whole, from the front, level, and fitted."""
        self.set_section(False)
        self.set_printed(None)
        if self.view is not None:
            self.view.look("front")
            self.view.fit()

    def set_section(self, on: bool) -> None:
        """Cut the picture open through the middle of the part, towards the viewer, or close it."""
        if self.view is not None:
            self.view.cutting.face("viewer") if on else self.view.cutting.close()

    def _section_moved(self, section: Section | None) -> None:
        if self.cut_bar.isHidden() == (section is not None):
            keeping_still(self, self.view, lambda: self.cut_bar.setVisible(section is not None))
        self.cut_bar.refresh()
        normal = None if section is None else section.normal
        if normal != self._cut_told:
            self._cut_told = normal
            self.section_changed.emit(section is not None)

    def _marking_changed(self) -> None:
        on = self.marking is not None and self.marking.is_on
        if on == self.mark_bar.isHidden():
            keeping_still(self, self.view, lambda: self.mark_bar.setVisible(on))
            self.mark_bar.refresh()
            if self.view is not None:
                self._use_mouse(self.view)
        self.marking_changed.emit()

    def _laying_changed(self) -> None:
        if self.view is not None:
            self._use_mouse(self.view)
        self.marking_changed.emit()

    def set_printed(self, height: float | None) -> None:
        """Show what is printed up to a height; None for the whole part."""
        if self.view is not None and self.chart is not None:
            self.view.set_printed(height)
            self.chart.set_printed(height)
        self.layers.set_height(height)

    @property
    def has_layers(self) -> bool:
        """Whether the layers are shown."""
        return not self.layers.isHidden()

    def show_layers(self, on: bool) -> None:
        """Show the layers, or close them. Of a whole part the layer is shown where there is most to see: at the
        selected vent, or where the first cup starts; when they are closed, it is whole again."""
        printed = None if self.chart is None else self.chart.printed
        if on and printed is None:
            self.set_printed(height_to_look_at(self._session))
            self._height_before = printed, None if self.chart is None else self.chart.printed
        self._turn_split()
        self.layers.setVisible(on)
        if on:
            room = self._split.width() if self._split.orientation() == Qt.Orientation.Horizontal else self.height()
            self._split.setSizes([room // 2, room - room // 2])
            self.layers.sheet.setFocus()
        elif printed is not None and printed == self._height_before[1]:
            self.set_printed(None)

    def _turn_split(self) -> None:
        beside = self.width() >= BESIDE_WIDTH
        self._split.setOrientation(Qt.Orientation.Horizontal if beside else Qt.Orientation.Vertical)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """The layers stand beside the view or below it."""
        super().resizeEvent(event)
        self._turn_split()

    def shut_down(self) -> None:
        """End the threads of what is drawn."""
        self.layers.close_down()
        if self.marking is not None:
            self.marking.close_down()
        if self.view is not None:
            self.view.close()

    def set_mouse(self, turn: Button, away_is_larger: bool) -> None:
        """Which button turns the part, and what the wheel does."""
        self._mouse = turn, away_is_larger
        if self.view is not None and self.chart is not None:
            self._use_mouse(self.view)
            self.chart.set_wheel(away_is_larger)
        self.layers.sheet.set_wheel(away_is_larger)

    def _use_mouse(self, view: View) -> None:
        """The left button paints while the surface to be kept clear is marked: then the right one turns for it."""
        turn, away_is_larger = self._mouse
        paints = any(hand is not None and hand.is_on for hand in (self.marking, self.laying))
        view.set_mouse(BUTTONS["right" if paints and turn == "left" else turn], away_is_larger)

    def set_dark(self, dark: bool) -> None:
        """Light or dark."""
        self._dark = dark
        if self.view is not None and self.chart is not None:
            self.view.set_colours(DARK if dark else LIGHT)
            self.chart.set_colours(DARK if dark else LIGHT)
        self.layers.set_dark(dark)

    def give_up(self) -> bool:
        """End a drag or the choice of a face; False if there is none."""
        if any(hand is not None and hand.give_up() for hand in (self.laying, self.marking)):
            return True
        given_up = self.view is not None and self.view.escape()
        if given_up:
            self.face_mode_ended.emit()
        return given_up

    def new_vent(self) -> str:
        """Place a vent where the pointer is, else with the next click; returns what to do then, "" for nothing."""
        return "" if self.placing is None else self.placing.begin()

    def new_passage(self) -> str:
        """Lay a passage by two clicks, or stop that; returns what to do then."""
        if self.marking is not None and self.marking.is_on:
            self.marking.set_on(False)
        return "" if self.laying is None else self.laying.switch()

    def why_not(self) -> str:
        """Ask of the place under the pointer why no vent fits there; returns what to do if there is none."""
        return "" if self.placing is None else self.placing.why_not()

    def set_face_mode(self, on: bool) -> None:
        """Whether the next click in the view chooses the face that goes to the plate."""
        if self.view is not None:
            self.view.set_tool("face" if on else "look")

    def _show_place(self, point: FloatArray, what: str) -> None:
        """Mark a place of the part in the view; what is cut away there comes back."""
        if self.view is None or self.place_mark is None:
            return
        if self.view.shown.is_gone(point):
            self.set_printed(None)
            self.set_section(False)
        self.place_mark.show_at(point, what)

    def _activated(self, word: str) -> None:
        kind, _, name = word.partition(" ")
        if kind == "proposal":
            self._session.accept(name)
        elif kind == "joining":
            self._session.join(name)

    def _drag_started(self, word: str) -> None:
        self._session.select(word)

    def _show_dragged(self, view: View) -> None:
        view.show_refusal(self._session.drag_refusal)
        if self.place_mark is not None:
            self.place_mark.show_refused(self._session.refused_at)
        fitted = self._session.dragged
        if fitted is not None:
            view.show_overlay(fitted)

    def _dragged(self, word: str, point: FloatArray, normal: FloatArray) -> None:
        hold = bool(QApplication.keyboardModifiers() & Qt.KeyboardModifier.ShiftModifier)
        self._session.drag_to(word, point, normal, hold)

    def _face_picked(self, normal: FloatArray) -> None:
        session = self._session
        if session.state is not None:
            outward = session.state.pose.rotation.T @ np.asarray(normal, dtype=np.float64)
            x, y, z = (float(v) for v in outward)
            session.set_pose(replace(session.state.pose, to_plate=(x, y, z)))
        self.face_mode_ended.emit()


def height_to_look_at(session: Session) -> float:
    """Build height at which a layer tells most: through the selected vent, or a little above the first cup's start."""
    picture = session.picture
    if picture is None:
        return 0.0
    vent = next((v for v in picture.vents if v.word == session.selected), None)
    if vent is not None:
        return min(max(0.5 * (vent.start[2] + vent.end[2]), 0.0), picture.height)
    cups = [cup.cup for c in session.findings.cavities for cup in c.cups] if session.findings is not None else []
    start = min((cup.from_height for cup in cups), default=0.5 * picture.height)
    return float(min(start + 1.0, picture.height))


class _Waiting(QWidget):
    def __init__(self, text: str) -> None:
        super().__init__()
        layout = QVBoxLayout(self)
        said = label(text, "muted")
        said.setAlignment(Qt.AlignmentFlag.AlignCenter)
        layout.addWidget(said)
