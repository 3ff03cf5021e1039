"""The line on top of the work: the whole part in one sentence, as it is with the accepted vents."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QWidget

from ventplanner.ui.panels.card import Pill
from ventplanner.ui.panels.fields import label
from ventplanner.ui.units import edit_name, sentence
from ventplanner.ui.words import STATE_WORDS

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

WORDS = {**STATE_WORDS, "left": "left as it is", "none": "nothing to vent"}
MOST_NAMES = 5
NOT_KNOWN, NOT_YET = "not known", "not known yet"


class VerdictLine(QFrame):
    """A state by symbol and word, and a sentence; shortened where there is no room for it."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("verdict")
        self._session = session
        self._whole = ""
        self._pill = Pill()
        self._text = label("")
        self._text.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 6, 16, 6)
        layout.setSpacing(10)
        layout.addWidget(self._pill)
        layout.addWidget(self._text, 1)
        for news in (session.changed, session.stepped):
            news.connect(self.show_session)
        self.show_session()

    @property
    def sentence(self) -> str:
        """What it says, whether or not there is room for all of it."""
        return self._whole

    @property
    def word(self) -> str:
        """The state in a word."""
        return self._pill.accessibleName()

    def show_session(self) -> None:
        """Say how the part is now."""
        mark, word, text = said_of(self._session)
        self._pill.show_state(mark, word)
        self._whole = text
        self.setAccessibleName(f"{word}. {text}" if word else text)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Fit anew."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        room = self.width() - self._pill.sizeHint().width() - 42
        shown = self._text.fontMetrics().elidedText(self._whole, Qt.TextElideMode.ElideRight, max(room, 60))
        self._text.setText(shown)
        self._text.setToolTip(self._whole if shown != self._whole else "")
        self._text.setAccessibleName(self._whole)


def said_of(session: Session) -> tuple[str, str, str]:
    """Mark and word of the state, and the sentence."""
    if session.state is None:
        return "", "", ""
    halted = session.interrupted
    if halted is not None and halted.what == "analysis":
        how = "was cancelled" if halted.cancelled else "failed"
        return "left", NOT_KNOWN, f"The analysis {how}: {_what_is_shown(session)}."
    told = session.verdict
    if told is None:
        return "left", NOT_YET, "The part is being looked at."
    return (
        ("left" if told.mark == "none" else told.mark),
        WORDS[told.mark],
        sentence(f"{told.text}{_as_printed(session)}."),
    )


def _as_printed(session: Session) -> str:
    """A clause about cavities that the print closes, if that is known."""
    printed = session.printed
    if printed is None:
        return ""
    from ventplanner.app.printing import shut_by_the_print  # loads the engine, which the start does not wait for

    names = shut_by_the_print(printed, session.plan)
    if not names:
        return ""
    who = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    who = f"{len(names)} of them" if len(names) > MOST_NAMES else who
    return f"; as printed (estimate), {who} {'does' if len(names) == 1 else 'do'} not breathe"


def _what_is_shown(session: Session) -> str:
    if session.findings is None:
        return "the part is shown alone"
    before = f" before “{edit_name(session.undo_name)}”" if session.undo_name else " before"
    return f"the part is shown as it was{before}"
