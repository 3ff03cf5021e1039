"""Fields and small pieces that panels and dialogs are made of."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLayout,
    QLineEdit,
    QPushButton,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ventplanner.errors import ParameterError
from ventplanner.ui.marks import icon
from ventplanner.ui.units import number, per_shown, sentence, shown_unit, typed

STEPS_PER_INCH = 20.0
"""In inches a step is a twentieth of the figure that it is in mm: 0.005 in for 0.1 mm."""

ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


def is_enter(event: QEvent, kind: QEvent.Type) -> bool:
    """Whether an event of this kind is about Return or Enter."""
    return event.type() == kind and isinstance(event, QKeyEvent) and event.key() in ENTER


class Button(QPushButton):
    """A push button that Return presses when it has the focus, though Return is also the key of a command."""

    def event(self, event: QEvent) -> bool:
        """Qt asks first whether a widget wants the key, then sends it."""
        return pressed_by_enter(self, event) or super().event(event)


class Tool(QToolButton):
    """A tool button that Return presses when it has the focus."""

    def event(self, event: QEvent) -> bool:
        """As `Button`."""
        return pressed_by_enter(self, event) or super().event(event)


class Line(QLineEdit):
    """A line of text that ends with Return, though Return is also the key of a command."""

    def event(self, event: QEvent) -> bool:
        """As `Button`."""
        if is_enter(event, QEvent.Type.ShortcutOverride):
            event.accept()
            return True
        return super().event(event)


def pressed_by_enter(widget: QAbstractButton, event: QEvent) -> bool:
    """Let Return press a button that has the focus; whether the event was about that."""
    if is_enter(event, QEvent.Type.ShortcutOverride):
        event.accept()
        return True
    if is_enter(event, QEvent.Type.KeyPress) and widget.isEnabled():
        widget.click()
        return True
    return False


class NumberField(Line):
    """A number with its unit. `entered` when Return or leaving the field gave a new, allowed one.

    `check` returns the value as it will be kept, or raises ParameterError; then the field is marked, `refused` tells
    why, and the value stays what it was. Arrow keys step; Escape puts the old value back.
    """

    entered = Signal(float)
    refused = Signal(str)

    def __init__(self, name: str, unit: str, step: float, check: Callable[[float], object], parent: QWidget) -> None:
        super().__init__(parent)
        self._unit = unit
        self._step = step
        self._check = check
        self._value = 0.0
        self.is_stepping = False
        """Whether what is entered just now was stepped by the arrow keys, not typed."""
        self.setAccessibleName(name)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.setFixedWidth(self.fontMetrics().horizontalAdvance("0000.000 mm") + 20)
        self.editingFinished.connect(self._enter)

    @property
    def value(self) -> float:
        """The value last shown or entered."""
        return self._value

    def show_value(self, value: float) -> None:
        """Show a value, unless the user is typing another one."""
        if self.hasFocus() and self.isModified() and value == self._value:
            return
        self._value = value
        self.setEnabled(True)
        self._mark(False)
        text = f"{typed(value, self._unit)}{'°' if self._unit == '°' else f' {shown_unit(self._unit)}'}"
        self.setText(text.replace("-", "−"))
        self.setModified(False)

    def show_refused(self, value: float, why: str) -> None:
        """What was typed could not be done: it stays to be read and changed, but `value` is what there is."""
        self._value = value
        self._mark(True)
        self.setToolTip(why)

    def show_none(self, why: str) -> None:
        """There is nothing to show or type now, and why; `value` stays what it is."""
        self.setText("–")
        self.setModified(False)
        self.setToolTip(why)
        self.setEnabled(False)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Arrows step, Escape puts back."""
        if event.key() in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            typed = number(self.text(), self._unit) if self.isModified() else self._value
            step = self._step * (per_shown(self._unit) / STEPS_PER_INCH if per_shown(self._unit) != 1.0 else 1.0)
            steps = step if event.key() == Qt.Key.Key_Up else -step
            self.is_stepping = True
            self._take((self._value if typed is None else typed) + steps)
            self.is_stepping = False
        elif event.key() == Qt.Key.Key_Escape and (self.isModified() or self.property("wrong")):
            self.setModified(False)
            self.show_value(self._value)
            self.refused.emit("")
        else:
            super().keyPressEvent(event)

    def _enter(self) -> None:
        if not self.isModified():
            return
        typed = number(self.text(), self._unit)
        if typed is None:
            self._refuse(f"'{self.text().strip():.30}' is no number of {shown_unit(self._unit)}.")
        else:
            self._take(typed)

    def _take(self, value: float) -> None:
        try:
            self._check(value)
        except ParameterError as error:
            self._refuse(str(error))
            return
        changed = value != self._value
        self.setModified(False)
        self.show_value(value)
        if changed:
            self.entered.emit(value)

    def _refuse(self, why: str) -> None:
        why = sentence(why)
        self._mark(True)
        self.setToolTip(why)
        self.setModified(False)
        self.refused.emit(why)

    def _mark(self, wrong: bool) -> None:
        if not wrong:
            self.setToolTip("")
        restyle(self, "wrong", wrong)


class Choice(QComboBox):
    """A combo box that draws its own arrow: a style sheet could only show a file."""

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The box, then the arrow."""
        super().paintEvent(event)
        size = 14
        icon("down").paint(QPainter(self), self.width() - size - 7, (self.height() - size) // 2, size, size)


def restyle(widget: QWidget, name: str, value: object) -> None:
    """Set a property that the style sheet looks at."""
    if widget.property(name) != value:
        widget.setProperty(name, value)
        widget.style().unpolish(widget)
        widget.style().polish(widget)


def label(text: str, role: str = "", *, wrap: bool = False, select: bool = False) -> QLabel:
    """A label with a role of the style sheet: heading, muted, wrong, good, bad."""
    made = QLabel(text)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(wrap)
    if role:
        made.setProperty("role", role)
    if select:
        made.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        made.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
    return made


def hold_height(bar: QWidget) -> None:
    """Keep a row as high as its highest piece, hidden ones too: the view below does not jump as they come and go."""
    row = bar.layout()
    if row is None:
        return
    items = (row.itemAt(at) for at in range(row.count()))
    pieces = [item.widget() for item in items if item is not None]
    margins = row.contentsMargins()
    high = max((x.sizeHint().height() for x in pieces if x is not None), default=0) + margins.top() + margins.bottom()
    if bar.minimumHeight() != high:
        bar.setFixedHeight(high)


def button(text: str, do: Callable[[], object], kind: str = "", name: str = "", tip: str = "") -> QPushButton:
    """A push button of a kind of the style sheet: primary, quiet, sentence, or plain."""
    made = Button(text)
    made.setProperty("kind", kind)
    made.setAutoDefault(False)
    made.setAccessibleName(name or text.rstrip("….").replace("&", ""))
    if tip:
        made.setToolTip(tip)
    made.clicked.connect(lambda: do())  # noqa: PLW0108 - the signal hands over whether it is checked
    return made


def rule() -> QFrame:
    """A hairline."""
    made = QFrame()
    made.setObjectName("rule")
    made.setFixedHeight(1)
    return made


class Figures(QWidget):
    """Rows of a name and a figure, or a name and a field, with hairlines between."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._rows = QVBoxLayout(self)
        self._rows.setContentsMargins(0, 0, 0, 0)
        self._rows.setSpacing(0)
        self._figures: dict[str, tuple[QWidget, QLabel]] = {}

    def put(self, name: str, figure: str, tip: str = "") -> None:
        """Show a figure under a name; an empty one hides the row."""
        if name not in self._figures:
            shown = label(figure, wrap=True, select=True)
            shown.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            self._figures[name] = (self._row(name, shown, 5, tip), shown)
        line, shown = self._figures[name]
        if shown.text() != figure:
            shown.setText(figure)
        shown.setAccessibleName(f"{name}: {figure}")
        line.setVisible(bool(figure))

    def add_field(self, name: str, field: QWidget, tip: str = "") -> None:
        """One more row, with a field to edit."""
        self._row(name, field, 3, tip, widen=False)

    def _row(self, name: str, right: QWidget, space: int, tip: str, *, widen: bool = True) -> QWidget:
        line = QWidget()
        column = QVBoxLayout(line)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(space)
        inner = QHBoxLayout()
        inner.setContentsMargins(0, space, 0, 0)
        inner.setSpacing(10)
        left = label(name, "muted")
        left.setToolTip(tip)
        left.setBuddy(right)
        inner.addWidget(left, 0, Qt.AlignmentFlag.AlignTop if widen else Qt.AlignmentFlag.AlignVCenter)
        if widen:
            inner.addWidget(right, 1)
        else:
            inner.addStretch(1)
            inner.addWidget(right, 0)
        column.addLayout(inner)
        column.addWidget(rule())
        self._rows.addWidget(line)
        return line


def row(*widgets: QWidget, stretch: bool = True, spacing: int = 8) -> QHBoxLayout:
    """Widgets side by side, pushed to the left."""
    made = QHBoxLayout()
    made.setContentsMargins(0, 0, 0, 0)
    made.setSpacing(spacing)
    for widget in widgets:
        made.addWidget(widget)
    if stretch:
        made.addStretch(1)
    return made


def clear(layout: QLayout) -> None:
    """Take everything out of a layout and delete it."""
    while (item := layout.takeAt(0)) is not None:
        widget, inner = item.widget(), item.layout()
        if widget is not None:
            widget.hide()
            widget.deleteLater()
        elif inner is not None:
            clear(inner)
