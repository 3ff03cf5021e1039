"""Where a part needs mending, the window offers it; and shows the cards before and after."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.errors import MeshError
from ventplanner.ui.panels.mend_card import MendCard, MendedCard
from ventplanner.ui.words import count

if TYPE_CHECKING:
    from ventplanner.ui.window import MainWindow

REFUSED = "The part cannot be looked at as it is: its mesh is damaged. Mending may help."
MEND = "Mend…"


class MendingOffer(QObject):
    """Says once for each part that its mesh is damaged; what is only a blemish (faces without area, skins that touch)
    is told on the card of the part."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window, self._session = window, window.session
        self._told: object = None
        self._text = ""
        session = self._session
        session.mend_wanted.connect(self._show)
        session.mended.connect(lambda facts: window.card.show_card(MendedCard(session, facts)))
        session.changed.connect(self._look)
        session.failed.connect(self._failed)

    def _look(self) -> None:
        state, findings = self._session.state, self._session.findings
        solid = None if state is None else state.solid
        if self._text and solid is not self._told:  # of another part, or of this one before it was mended
            self._window.notices.take_back(self._text)
            self._text = ""
        if solid is None or findings is None or self._session.stale or solid is self._told:
            return
        self._told = solid
        from ventplanner.analysis import health as h  # loaded by now: there are findings

        grave = (h.OPEN_EDGES, h.NON_MANIFOLD_EDGES, h.FLIPPED_FACES, h.ONE_SIDED_SKINS, h.INSIDE_OUT)
        found = [f"{note.count} {note.what}" for note in findings.health if note.what in grave]
        if found:
            more = f" and {count(len(found) - 2, 'other thing')}" if len(found) > 2 else ""
            self._say(f"The mesh is damaged: {', '.join(found[:2])}{more}. What is found in it may be wrong.")

    def _failed(self, error: object, _what: str) -> None:
        """An analysis that a damaged mesh makes impossible."""
        state = self._session.state
        if isinstance(error, MeshError) and state is not None and self._session.findings is None:
            self._say(REFUSED)

    def _say(self, text: str) -> None:
        self._text = text
        self._window.notices.say(text, (MEND, self._show), ("Leave it", lambda: None))

    def _show(self) -> None:
        self._window.notices.take_back(self._text)
        if self._session.state is not None:
            self._window.card.show_card(MendCard(self._session, self._leave))

    def _leave(self) -> None:
        self._session.forget_mending()
        self._window.card.unpin()
