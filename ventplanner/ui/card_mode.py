"""A mode of the window that has a card of its own: begun by a command, ended by it, by Escape, or with its part."""

from __future__ import annotations

from abc import abstractmethod
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

if TYPE_CHECKING:
    from ventplanner.ui.panels.card import Card
    from ventplanner.ui.view.view import View
    from ventplanner.ui.window import MainWindow


class CardMode(QObject):
    """From its command on until it ends. Meanwhile anything can be selected and edited: its card comes back after."""

    card: Card | None

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window, self._session = window, window.session
        self._part: object = None
        self.card = None
        for news in (window.session.changed, window.session.stepped):
            news.connect(self._follow)
        window.session.selection_changed.connect(self._selected)

    @property
    def is_on(self) -> bool:
        """Whether what it is for is shown, or awaited."""
        return self._part is not None

    def switch(self) -> None:
        """Begin; bring back the card, if another one stands in its place; else end."""
        if self.is_on and self._has_card:
            self.end()
        elif self.is_on:
            self._session.select("")
            self._show_card()
        else:
            self._begin()

    def end(self) -> bool:
        """Everything as before; False if it was not on."""
        if not self.is_on:
            return False
        state = self._session.state
        same = state is not None and state.solid is self._part
        self._part = None
        self._leave(same_part=same)
        if self._has_card:
            self._window.card.unpin()
        self.card = None
        self._window.refresh_commands()
        return True

    @abstractmethod
    def _enter(self, view: View | None) -> None:
        """It begins; view: that of the part, once it is there."""

    @abstractmethod
    def _leave(self, *, same_part: bool) -> None:
        """It ends. same_part: the part that it began with is still open."""

    @abstractmethod
    def _new_card(self) -> Card:
        """Its card."""

    @abstractmethod
    def _follow_part(self) -> None:
        """Show what is known now of the part, which is the one that it began with."""

    @property
    def _has_card(self) -> bool:
        return self.card is not None and self._window.card.card is self.card

    def _begin(self) -> None:
        state, stage = self._session.state, self._window.stage
        if state is None:
            return
        for other in (self._window.draining, self._window.orienting):
            other.end()
        self._session.select("")
        self._part = state.solid
        if stage.view is not None:
            stage.set_printed(None)
        self._enter(stage.view)
        self._show_card()
        self._follow()
        self._window.refresh_commands()

    def _show_card(self) -> None:
        self.card = self._new_card()
        self._window.card.show_card(self.card)

    def _selected(self) -> None:
        """Back from a vent to nothing: to its card."""
        if self.is_on and not self._session.selected and not self._has_card:
            self._show_card()

    def _follow(self) -> None:
        """A part that is gone, or another one in its place, ends it."""
        state = self._session.state
        if not self.is_on:
            return
        if state is None or state.solid is not self._part:
            self.end()
        else:
            self._follow_part()
