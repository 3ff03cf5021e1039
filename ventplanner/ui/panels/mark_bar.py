"""The row above the view while a surface is marked: how, how large the brush is, and how much is marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QWidget

from ventplanner.ui.panels.fields import NumberField, hold_height, label
from ventplanner.ui.panels.tools import in_one_frame, tool_of
from ventplanner.ui.units import area

if TYPE_CHECKING:
    from ventplanner.ui.panels.marking import Marking
    from ventplanner.ui.session import Session

WAYS = ("mark_brush", "mark_flood", "mark_face")


class MarkBar(QWidget):
    """Buttons for the commands that mark, and the size of the brush as a number."""

    def __init__(self, session: Session, actions: dict[str, QAction], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Keep clear")
        self._session = session
        self._marking: Marking | None = None
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        row = self._row = QHBoxLayout(self)
        row.setContentsMargins(12, 0, 12, 8)
        row.setSpacing(8)
        self._head = label("Keep clear", "muted")
        row.addWidget(self._head)
        self._ways = in_one_frame(*(tool_of(actions[name]) for name in WAYS))
        row.addWidget(self._ways)
        self.field = NumberField("Radius of the brush", "mm", 0.5, self._within, self)
        self.field.setToolTip("Radius of the brush ([ and ])")
        self.erase, self.seen, self.clear = (tool_of(actions[n]) for n in ("mark_erase", "mark_seen", "mark_clear"))
        self._much = label("", "muted")
        for widget in (self.field, self.erase, self.seen, self.clear, self._much):
            row.addWidget(widget)
        row.addStretch(1)
        self.field.entered.connect(self._put)

    def follow(self, marking: Marking) -> None:
        """Show and change this."""
        self._marking = marking
        marking.changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show how things are now."""
        marking = self._marking
        if marking is None or self.isHidden():
            return
        self.field.show_value(marking.radius)
        self.field.setEnabled(marking.way == "brush")
        self._much.setText(much(self._session))
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Where there is little room, words go first, then what has a key or stands in the menu."""
        super().resizeEvent(event)
        hold_height(self)
        self._fit()

    def _fit(self) -> None:
        given_up = (self._head, self._much, self.clear, self.field, self.erase, self.seen)
        gap, margins = self._row.spacing(), self._row.contentsMargins()
        stays = self._ways.sizeHint().width() + margins.left() + margins.right()
        wide = [_width(widget) + gap for widget in given_up]
        hidden = next((n for n in range(len(wide)) if stays + sum(wide[n:]) <= self.width()), len(wide))
        for at, widget in enumerate(given_up):
            # Only what differs: what is shown and hidden lets the row lay itself out, which asks again.
            if widget.isHidden() != (at < hidden):
                widget.setVisible(at >= hidden)

    def _within(self, value: float) -> float:
        return self._marking.check_radius(value) if self._marking is not None else value

    def _put(self, value: float) -> None:
        if self._marking is not None:
            self._marking.set_radius(value)


def _width(widget: QWidget) -> int:
    return max(widget.sizeHint().width(), widget.minimumWidth())


def much(session: Session) -> str:
    """How much is marked, in words."""
    state = session.state
    marked = state is not None and state.keep_clear is not None
    return f"{area(session.kept_area)} marked" if marked else "nothing marked"
