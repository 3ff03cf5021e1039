"""Makes Qt's own file dialog readable in light and dark; a dialog of the system is left as it is."""

from __future__ import annotations

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QFileDialog, QToolButton, QWidget

from ventplanner.ui.marks import icon

_ICONS = {"backButton": "left", "forwardButton": "right", "toParentButton": "up"}
_NAMES = {
    "backButton": "Folder before",
    "forwardButton": "Folder after",
    "toParentButton": "Folder above",
    "newFolderButton": "New folder",
    "listModeButton": "As a list",
    "detailModeButton": "With size and date",
}


def dress_soon(window: QWidget) -> None:
    """For just before a file dialog of this window is opened, which then waits for its answer."""
    QTimer.singleShot(0, window, lambda: _dress(window))


def _dress(window: QWidget) -> None:
    for dialog in window.findChildren(QFileDialog):
        for name, text in _NAMES.items():
            tool = dialog.findChild(QToolButton, name)
            if tool is None:
                continue
            tool.setAccessibleName(text)
            tool.setToolTip(text)
            if name in _ICONS:  # the style's own arrows are black in the dark, too
                tool.setIcon(icon(_ICONS[name]))
