"""The right end of the menu bar: undo and redo with their names, and the way to the command search."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QHBoxLayout, QWidget

from ventplanner.ui.marks import icon
from ventplanner.ui.panels.fields import Tool, button

MOST_NAME_PX = 280
"""A longer name of an edit is cut short: its tip has all of it."""


class Corner(QWidget):
    """`undo` and `redo` are tool buttons, `search` a push button."""

    def __init__(self, actions: dict[str, QAction], show_search: Callable[[], object]) -> None:
        super().__init__()
        self._actions = actions
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 3, 8, 3)
        line.setSpacing(4)
        self.undo, self.redo = Tool(), Tool()
        for tool, name in ((self.undo, "undo"), (self.redo, "redo")):
            tool.setProperty("kind", "icon")
            tool.setAutoRaise(True)
            tool.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            tool.clicked.connect(actions[name].trigger)
            line.addWidget(tool)
        self.search = button("Search commands   Ctrl+K", show_search, "search", "Search commands")
        line.addWidget(self.search)

    def name_undo(self, edit: str) -> None:
        """What can be undone and redone; `edit` is written beside the arrow, "" where there is no room for it."""
        for tool, name in ((self.undo, "undo"), (self.redo, "redo")):
            action = self._actions[name]
            text = action.text().replace("&", "")
            tool.setEnabled(action.isEnabled())
            tool.setToolTip(f"{text}  ({action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)})")
            tool.setAccessibleName(text)
        edit = self.undo.fontMetrics().elidedText(edit, Qt.TextElideMode.ElideRight, MOST_NAME_PX)
        self.undo.setText(f" {edit}" if edit else "")
        style = Qt.ToolButtonStyle
        self.undo.setToolButtonStyle(style.ToolButtonTextBesideIcon if edit else style.ToolButtonIconOnly)

    def show_icons(self) -> None:
        """Icons in the colours of now."""
        self.undo.setIcon(icon("back"))
        self.redo.setIcon(icon("forth"))
        self.search.setIcon(icon("search"))
