"""The row above the view while the picture is cut open: which way the plane stands, where, and what it goes through."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QWidget

from ventplanner.errors import ParameterError
from ventplanner.ui.panels.fields import NumberField, hold_height, label, restyle
from ventplanner.ui.panels.tools import in_one_frame, tool_of
from ventplanner.ui.words import mm

if TYPE_CHECKING:
    from ventplanner.ui.view.cutting import Cutting

SIDES = ("cut_front", "cut_right", "cut_top", "cut_viewer")


class CutBar(QWidget):
    """Buttons for the commands of the section, and the place of the plane as a number."""

    def __init__(self, actions: dict[str, QAction], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Section")
        self._cutting: Cutting | None = None
        row = self._row = QHBoxLayout(self)
        row.setContentsMargins(12, 0, 12, 8)
        row.setSpacing(8)
        self._head = label("Cut from", "muted")
        row.addWidget(self._head)
        row.addWidget(in_one_frame(*(tool_of(actions[name]) for name in SIDES)))
        self.flip, self.through = tool_of(actions["cut_flip"]), tool_of(actions["cut_through"])
        self.field = NumberField("Place of the plane", "mm", 1.0, self._within, self)
        self._most = label("", "muted")
        for widget in (self.field, self._most, self.flip, self.through):
            row.addWidget(widget)
        row.addStretch(1)
        self.field.entered.connect(self._put)
        self.field.refused.connect(self._refused)

    def follow(self, cutting: Cutting) -> None:
        """Show and move this plane."""
        self._cutting = cutting
        self.refresh()

    def refresh(self) -> None:
        """Show where the plane is now."""
        if self._cutting is None or self._cutting.section is None:
            return
        self.field.show_value(round(self._cutting.position, 3))
        self._say(f"of {mm(self._cutting.reach[1])}")

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Where there is little room, words go first, then what has a key."""
        super().resizeEvent(event)
        hold_height(self)
        self._fit()

    def _fit(self) -> None:
        for shown in ((True, True, True, True), (False, True, True, True), (False, False, True, True),
                      (False, False, True, False), (False, False, False, False)):  # fmt: skip
            for widget, seen in zip((self._head, self._most, self.flip, self.through), shown, strict=True):
                widget.setVisible(seen)
            self._row.invalidate()
            if self._row.sizeHint().width() <= self.width():
                break

    def _within(self, value: float) -> float:
        least, most = self._cutting.reach if self._cutting is not None else (0.0, 0.0)
        if not least - 5e-4 <= value <= most + 5e-4:
            raise ParameterError("The plane misses the part there.", f"Give {mm(least)} to {mm(most)}.")
        return value

    def _put(self, value: float) -> None:
        if self._cutting is not None:
            self._cutting.put_at(value)

    def _refused(self, why: str) -> None:
        if why:
            self._say(why.rpartition(". ")[2], wrong=True)
        else:
            self.refresh()

    def _say(self, text: str, wrong: bool = False) -> None:
        restyle(self._most, "role", "wrong" if wrong else "muted")
        if self._most.text() != text:
            self._most.setText(text)
            self._fit()
