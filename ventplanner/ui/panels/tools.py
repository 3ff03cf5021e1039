"""The row of tools above the view: how the part is looked at, and how it hangs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QMenu,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ventplanner import parameters as p
from ventplanner.app.directions import in_words
from ventplanner.errors import ParameterError
from ventplanner.geometry.pose import Pose
from ventplanner.ui.angles import tilt_and_turn, to_plate_of
from ventplanner.ui.marks import icon
from ventplanner.ui.panels.fields import NumberField, Tool, label, row
from ventplanner.ui.words import SIDES, mm

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

AXES: tuple[tuple[float, float, float], ...] = (
    (0.0, 0.0, -1.0),
    (0.0, 0.0, 1.0),
    (-1.0, 0.0, 0.0),
    (1.0, 0.0, 0.0),
    (0.0, -1.0, 0.0),
    (0.0, 1.0, 0.0),
)


class Tools(QWidget):
    """Buttons for commands; what they do is told by the table of commands."""

    def __init__(self, session: Session, actions: dict[str, QAction], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._is_fitting = False
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        layout = self._row = QHBoxLayout(self)
        layout.setContentsMargins(12, 8, 12, 8)
        layout.setSpacing(8)
        self.sides = in_one_frame(*(tool_of(actions[name]) for name in ("standing", "hanging")))
        layout.addWidget(self.sides)
        named = (tool_of(actions[name]) for name in ("level", "section", "face", "keep_clear"))
        self.level, self.section, self.face, self.keep = named
        self.keep.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonIconOnly)
        self.keep.setAccessibleName("Keep clear")
        for tool in (self.level, self.section, self.face, self.keep):
            layout.addWidget(tool)
        self.hanging = Tool()
        self.hanging.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.hanging.setLayoutDirection(Qt.LayoutDirection.RightToLeft)
        self.hanging.setIcon(icon("down"))
        self.hanging.setToolTip("How it hangs: direction, plate or supports, gap")
        self.hanging.clicked.connect(self.show_popup)
        layout.addWidget(self.hanging)
        self.more = Tool()
        self.more.setText("…")
        self.more.setAccessibleName("More tools")
        self.more.setToolTip("The tools for which there is no room")
        self.more.clicked.connect(self._show_more)
        layout.addWidget(self.more)
        layout.addStretch(1)
        self.keep.defaultAction().setIcon(icon("keep"))
        self._popup: PosePopup | None = None
        session.changed.connect(self.show_session)
        self.show_session()

    def show_session(self) -> None:
        """Show how the part hangs."""
        state = self._session.state
        if state is None:
            return
        text = hanging_text(state.pose)
        self._fit()
        self.hanging.setAccessibleName(f"How it hangs: {text}")
        if self._popup is not None and self._popup.isVisible():
            self._popup.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Where there is little room, what has a key goes first, into the menu behind the dots."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            # To try what fits may change the height by a pixel for a moment: that is no reason to try again.
            self._fit()

    def _fit(self) -> None:
        state = self._session.state
        if state is None:
            return
        text = hanging_text(state.pose)
        short = "On the plate" if state.pose.on == "plate" else "On supports"
        if self._is_fitting:
            return
        room = self.width()
        self._is_fitting = True  # what is shown and hidden lets the window lay itself out, which asks again
        given_up = (self.level, self.section, self.face, self.keep, self.sides)
        for hidden, shown in ((0, text), *((n, short) for n in range(len(given_up) + 1))):
            for at, tool in enumerate(given_up):
                tool.setVisible(at >= hidden)
            self.more.setVisible(hidden > 0)
            self.hanging.setText(shown)
            if self._row.sizeHint().width() <= room:
                break
        self._row.activate()
        self._is_fitting = False
        if self.width() != room:
            self._fit()

    def _show_more(self) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for tool in (self.level, self.section, self.face, self.keep):
            if tool.isHidden():
                menu.addAction(tool.defaultAction())
        if self.sides.isHidden():
            for tool in self.sides.findChildren(QToolButton):
                menu.addAction(tool.defaultAction())
        menu.popup(self.more.mapToGlobal(QPoint(0, self.more.height())))

    def show_popup(self) -> None:
        """Open the popup below its button."""
        if self._session.state is None:
            return
        if self._popup is None:
            self._popup = PosePopup(self._session, self)
        self._popup.refresh()
        self._popup.adjustSize()
        corner = self.hanging.mapToGlobal(QPoint(0, self.hanging.height() + 4))
        room = self.screen().availableGeometry()
        corner.setX(max(room.left(), min(corner.x(), room.right() - self._popup.width())))
        self._popup.move(corner)
        self._popup.show()
        self._popup.setFocus()

    @property
    def popup(self) -> PosePopup | None:
        """The popup, once it was opened."""
        return self._popup

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Icons follow light and dark."""
        if event.type() == QEvent.Type.PaletteChange:
            self.hanging.setIcon(icon("down"))
            self.keep.defaultAction().setIcon(icon("keep"))
        super().changeEvent(event)


class PosePopup(QFrame):
    """How the part hangs. Every change is an edit at once, and can be undone."""

    def __init__(self, session: Session, parent: QWidget) -> None:
        super().__init__(parent, Qt.WindowType.Popup)
        self.setObjectName("popup")
        self.setAccessibleName("How it hangs")
        self._session = session
        self.axes = {axis: self._side(axis) for axis in AXES}
        self.held = {
            "plate": self._choice("Plate", self._hold("plate")),
            "supports": self._choice("Supports", self._hold("supports")),
        }
        self.tilt = NumberField("Tilt", "°", 5.0, _within(0.0, 180.0), self)
        self.turn = NumberField("Towards", "°", 15.0, _within(-360.0, 360.0), self)
        self.turn.show_value(0.0)
        self.gap = NumberField("Gap", "mm", 0.5, p.GAP_MM.check, self)
        self._wrong = label("", "wrong", wrap=True)
        self._wrong.hide()
        self._build()

    def _build(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 14, 16, 14)
        column.setSpacing(8)
        column.addWidget(label("Side of the part that goes to the plate", "heading"))
        sides = [*self.axes.values()]
        for three in (sides[::2], sides[1::2]):  # opposite sides stand above each other
            frame = in_one_frame(*three)
            for at in range(len(three)):
                frame.layout().setStretch(at, 1)  # type: ignore[union-attr]  # a box layout
            column.addWidget(frame)
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.addWidget(label("Tilted from the bottom by", "muted"), 0, 0)
        grid.addWidget(self.tilt, 0, 1)
        grid.addWidget(label("towards (0° right, 90° back)", "muted"), 1, 0)
        grid.addWidget(self.turn, 1, 1)
        column.addLayout(grid)
        column.addSpacing(6)
        column.addWidget(label("Held by", "heading"))
        line = row(in_one_frame(*self.held.values()))
        line.addWidget(label("gap", "muted"))
        line.addWidget(self.gap)
        column.addLayout(line)
        column.addWidget(self._wrong)
        self.tilt.entered.connect(lambda _: self._by_angles())
        self.turn.entered.connect(lambda _: self._by_angles())
        self.gap.entered.connect(lambda gap: self._set(lambda pose: replace(pose, gap_mm=gap)))
        for field in (self.tilt, self.turn, self.gap):
            field.refused.connect(self._say)

    def refresh(self) -> None:
        """Show the pose as it is now."""
        state = self._session.state
        if state is None:
            return
        pose = state.pose
        for axis, tool in self.axes.items():
            tool.setChecked(max(abs(a - b) for a, b in zip(axis, pose.to_plate, strict=True)) < 1e-9)
        for on, tool in self.held.items():
            tool.setChecked(pose.on == on)
        tilt, turn = tilt_and_turn(pose.to_plate)
        self.tilt.show_value(round(tilt, 2))
        if 0.0 < tilt < 180.0:  # upright it leans to no side: what was typed waits for a tilt
            self.turn.show_value(round(turn, 2))
        self.gap.show_value(pose.gap_mm)
        self.gap.setEnabled(pose.on == "supports")
        self._say("")

    def _side(self, axis: tuple[float, float, float]) -> QToolButton:
        name = in_words(axis)
        tool = self._choice(f"{SIDES[name].capitalize()}  {name}", self._axis(axis))
        tool.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        tool.setAccessibleName(f"{SIDES[name].capitalize()} to the plate")
        tool.setToolTip(f"The side of the part in the direction {name} of its file")
        return tool

    def _choice(self, text: str, do: Callable[[], None]) -> QToolButton:
        tool = Tool()
        tool.setText(text)
        tool.setCheckable(True)
        tool.setAccessibleName(f"Held by {text.lower()}")
        tool.clicked.connect(lambda: do())  # noqa: PLW0108 - the signal hands over whether it is checked
        return tool

    def _axis(self, axis: tuple[float, float, float]) -> Callable[[], None]:
        return lambda: self._set(lambda pose: replace(pose, to_plate=axis))

    def _hold(self, on: str) -> Callable[[], None]:
        return lambda: self._set(lambda pose: replace(pose, on=on))  # type: ignore[arg-type]  # one of the two

    def _by_angles(self) -> None:
        to_plate = to_plate_of(self.tilt.value, self.turn.value)
        self._set(lambda pose: replace(pose, to_plate=to_plate))

    def _set(self, change: Callable[[Pose], Pose]) -> None:
        state = self._session.state
        if state is not None:
            self._session.set_pose(change(state.pose), self.gap.is_stepping)
            self.refresh()

    def _say(self, why: str) -> None:
        self._wrong.setText(why)
        self._wrong.setVisible(bool(why))
        self.adjustSize()


def hanging_text(pose: Pose) -> str:
    """How a part hangs, in a few words."""
    held = "on the plate" if pose.on == "plate" else f"on supports, {mm(pose.gap_mm)}"
    axis = in_words(pose.to_plate)
    turned = "" if axis == "−Z" else f"{SIDES[axis]} to the plate, " if axis in SIDES else "tilted, "
    return f"{turned}{held}"[:1].upper() + f"{turned}{held}"[1:]


def in_one_frame(*tools: QToolButton) -> QFrame:
    """Buttons that belong together, in one frame."""
    frame = QFrame()
    frame.setObjectName("segments")
    layout = QHBoxLayout(frame)
    layout.setContentsMargins(2, 2, 2, 2)
    layout.setSpacing(1)
    for tool in tools:
        layout.addWidget(tool)
    return frame


def tool_of(action: QAction) -> QToolButton:
    """A button for a command."""
    tool = Tool()
    tool.setDefaultAction(action)
    tool.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
    tool.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    return tool


def _within(low: float, high: float) -> Callable[[float], float]:
    def check(value: float) -> float:
        if not low <= value <= high:
            raise ParameterError(f"An angle of {value:g}° is out of range.", f"Give {low:g}° to {high:g}°.")
        return value

    return check
