"""What is shown while the first part is read and looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from ventplanner.ui.panels.busy import Busy
from ventplanner.ui.panels.fields import label
from ventplanner.ui.theme import scaled_font
from ventplanner.ui.words import file_name

if TYPE_CHECKING:
    from ventplanner.ui.session import Session


class Opening(QWidget):
    """Shown while the first part is read and looked at."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._title = label("")
        self._title.setFont(scaled_font(1.4, self._title.font().Weight.DemiBold))
        self._title.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._text = label("", "muted")
        self._text.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.busy = Busy(session)
        layout = QVBoxLayout(self)
        layout.addStretch(2)
        layout.addWidget(self._title)
        layout.addWidget(self._text)
        layout.addWidget(self.busy, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addStretch(3)

    def show_file(self, path: str, text: str = "") -> None:
        """Say which file is opened, and what else there is to know."""
        self._title.setText(file_name(path))
        self._text.setText(text)
        self._text.setVisible(bool(text))
