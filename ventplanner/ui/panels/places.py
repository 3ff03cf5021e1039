"""Other places for a vent: a short list with what each brings with it, to walk through or to choose from."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from ventplanner.ui.panels.fields import button, clear, label, row
from ventplanner.ui.units import sentence, system

if TYPE_CHECKING:
    from ventplanner.app.elsewhere import Walk
    from ventplanner.ui.session import Session

LOOKING = "Looking for other places…"


class Places(QWidget):
    """word: what the vent is called by a selection, "vent 3" or "proposal 3"."""

    def __init__(self, session: Session, word: str) -> None:
        super().__init__()
        self._session, self._word = session, word
        self._shown: tuple[object, ...] = ()
        self.next = button("Next place", lambda: session.step_place(1), tip="J")
        self.before = button("Place before", lambda: session.step_place(-1), "quiet", tip="Shift+J")
        self.choices: list[QPushButton] = []
        self._list = QVBoxLayout()
        self._list.setSpacing(4)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 6, 0, 0)
        whole.setSpacing(5)
        whole.addWidget(label("Other places", "heading"))
        whole.addLayout(row(self.next, self.before))
        self._state = label("", "muted", wrap=True)
        whole.addWidget(self._state)
        whole.addLayout(self._list)

    def refresh(self) -> None:
        """Show the places as far as they are known."""
        now, looking = self._session.walk_of(self._word), self._session.is_looking
        key = (now, looking, system())
        if key == self._shown:
            return
        self._shown = key
        if any(choice.hasFocus() for choice in self.choices):
            self.next.setFocus()
        clear(self._list)
        self.choices = []
        self._state.setText(_state(now, looking))
        self._state.setVisible(bool(self._state.text()))
        for k in range(0 if now is None or len(now.places) < 2 else len(now.places)):
            self._add(now, k)

    def _add(self, now: Walk | None, k: int) -> None:
        if now is None:
            return
        from ventplanner.app.elsewhere import figures_of

        place = now.places[k]
        name = "Where it was" if k == 0 else f"Place {k}"
        if len(place.vents) > 1:
            name += f", two of {place.vents[0].diameter_mm:g} mm"
        chosen = k == now.at
        choice = button(sentence(f"✓ {name}, here now" if chosen else name), partial(self._take, k), "quiet")
        choice.setEnabled(not chosen)
        text = sentence(figures_of(place.terms))
        choice.setAccessibleName(f"{name}: {text}")
        self.choices.append(choice)
        self._list.addLayout(row(choice))
        self._list.addWidget(label(f"{text[:1].upper()}{text[1:]}.", "muted", wrap=True, select=True))

    def _take(self, k: int) -> None:
        self._session.take_place(self._word, k)


def _state(now: Walk | None, looking: bool) -> str:
    from ventplanner.ui.work.elsewhere import NONE_THERE

    if looking:
        return LOOKING
    if now is None:
        return "Walks through places that breathe better or are hidden better, with what each costs."
    return NONE_THERE if len(now.places) < 2 else ""
