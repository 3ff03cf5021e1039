"""The line about supports from a second file on the card of the part, with a way to remove them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QVBoxLayout, QWidget

from ventplanner.ui.panels.fields import button, label, row
from ventplanner.ui.units import sentence

if TYPE_CHECKING:
    from ventplanner.ui.session import Session


class SupportsLine(QWidget):
    """Hidden without supports."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self._name, self._about = label("", select=True), label("", "muted", wrap=True, select=True)
        self.remove = button("Remove", session.remove_supports, name="Remove the supports", tip="Can be undone")
        line = row(self._name, stretch=True)
        line.addWidget(self.remove)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 4)
        column.setSpacing(4)
        column.addWidget(label("Supports", "heading"))
        column.addLayout(line)
        column.addWidget(self._about)

    def refresh(self) -> None:
        """Show those of the present state."""
        state = self._session.state
        supports = state.supports if state is not None else None
        self.setVisible(supports is not None)
        if supports is None:
            return
        self._name.setText(supports.name)
        self._name.setToolTip(supports.path)
        usual = "Vents keep off them. They are shown, and never exported; a plan remembers where their file is."
        self._about.setText(sentence(supports.problem) or usual)
