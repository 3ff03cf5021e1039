"""The left end of the status bar: the part in one line, and now and then a word instead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QWidget

from ventplanner.ui.units import resin
from ventplanner.ui.words import count, file_name, size

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

SAID_FOR_MS = 8000


class Facts(QLabel):
    """Says what is known of the part; `say` puts a sentence in its place for a while."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setProperty("role", "muted")
        self.setContentsMargins(10, 0, 0, 0)
        self.setMinimumWidth(60)
        self._while = QTimer(self)
        self._while.setSingleShot(True)
        self._while.timeout.connect(self.show_session)

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The text, shortened visibly where there is no room for all of it."""
        room = self.contentsRect()
        shown = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, room.width())
        where = int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)
        role = self.foregroundRole()
        self.style().drawItemText(QPainter(self), room, where, self.palette(), self.isEnabled(), shown, role)

    def say(self, text: str) -> None:
        """A sentence, for a while; "" takes back what was said."""
        self.setText(text)
        self._while.start(SAID_FOR_MS)
        if not text:
            self._while.stop()
            self.show_session()

    def show_session(self) -> None:
        """The part in one line, unless something is being said."""
        if not self._while.isActive():
            self.setText(summary(self._session))


def summary(session: Session) -> str:
    """The part in one line, for the status bar."""
    state, findings = session.state, session.findings
    if state is None:
        return ""
    triangles = f"{len(state.solid.faces):,}".replace(",", "\u2009")
    texts = [file_name(state.path), size(*map(list, state.solid.bounds)), f"{triangles} triangles"]
    if findings is not None:
        texts += [count(len(findings.cavities), "cavity", "cavities"), f"{resin(findings.volume)} of resin"]
    return "   ·   ".join(texts)
