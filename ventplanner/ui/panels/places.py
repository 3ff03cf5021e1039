"""Other places for a vent: a short list with what each brings with it, to walk through or to choose from."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QPushButton, QVBoxLayout, QWidget

from ventplanner.ui.panels.fields import button, clear, label, row
from ventplanner.ui.units import sentence, system

if TYPE_CHECKING:
    from ventplanner.app.comparing import Row, Side
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
        self.keep = button("Keep for comparing", session.keep_place, tip="Ctrl+J")
        self.choices: list[QPushButton] = []
        self._list = QVBoxLayout()
        self._list.setSpacing(4)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 6, 0, 0)
        whole.setSpacing(5)
        whole.addWidget(label("Other places", "heading"))
        whole.addLayout(row(self.next, self.before))
        whole.addLayout(row(self.keep))
        self.both = Both()
        whole.addWidget(self.both)
        self._state = label("", "muted", wrap=True)
        whole.addWidget(self._state)
        whole.addLayout(self._list)

    def refresh(self) -> None:
        """Show the places as far as they are known."""
        now, looking = self._session.walk_of(self._word), self._session.is_looking
        kept = self._session.kept if self._session.is_kept(self._word) else None
        self.keep.setText("Stop comparing" if kept is not None else "Keep for comparing")
        self.keep.setAccessibleName(self.keep.text())
        here = "" if now is None else now.name_of(now.at)
        self.both.show_rows("" if kept is None else kept.name, here, tuple(self._session.compared(self._word)))
        key = (now, looking, system(), None if kept is None else kept.name)
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
            self._add(now, k, "" if kept is None else kept.name)

    def _add(self, now: Walk | None, k: int, kept: str) -> None:
        if now is None:
            return
        from ventplanner.app.elsewhere import figures_of

        place, name = now.places[k], now.name_of(k)
        is_kept = name == kept
        if len(place.vents) > 1:
            name += f", two of {place.vents[0].diameter_mm:g} mm"
        if is_kept:
            name += ", kept"
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


class Both(QWidget):
    """The figures of the kept place beside those of the present one; the better of two is bold and has a mark."""

    def __init__(self) -> None:
        super().__init__()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 2, 0, 4)
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(3)
        self._grid.setColumnStretch(0, 1)
        self._shown: tuple[object, ...] = ()
        self.hide()

    def show_rows(self, kept: str, here: str, rows: tuple[Row, ...]) -> None:
        """These figures; without any it is hidden."""
        key = (kept, here, rows, system())
        if key == self._shown:
            return
        self._shown = key
        clear(self._grid)
        self.setVisible(bool(rows))
        if rows:
            first, second = (f"{name[:1].lower()}{name[1:]}" for name in (kept, here))
            told = f"Kept: {first}. Now: {second}. Left: resin, when it drains."
            self._grid.addWidget(label(told, "muted", wrap=True), 0, 0, 1, 3)
            self._put(1, "", "kept", "now", "")
        for k, one in enumerate(rows, start=2):
            self._put(k, one.name, sentence(one.kept), sentence(one.here), one.better)

    def _put(self, line: int, name: str, kept: str, here: str, better: Side) -> None:
        head = line == 1
        # It gives way: the card is to be no wider than without the figures.
        self._grid.addWidget(label(name, "muted", wrap=True), line, 0, Qt.AlignmentFlag.AlignTop)
        for column, text, side in ((1, kept, "kept"), (2, here, "here")):
            shown = label(text, "muted" if head else "", select=not head)
            shown.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            if side == better:
                shown.setText(f"✓ {text}")
                font = shown.font()
                font.setBold(True)
                shown.setFont(font)
            if not head:
                shown.setAccessibleName(f"{name}, {side}: {text}{', the better one' if side == better else ''}")
            self._grid.addWidget(shown, line, column)


def _state(now: Walk | None, looking: bool) -> str:
    from ventplanner.ui.work.elsewhere import NONE_THERE

    if looking:
        return LOOKING
    if now is None:
        return "Walks through places that breathe better or are hidden better, with what each costs."
    return NONE_THERE if len(now.places) < 2 else ""
