"""Playing the pour plan: the card with its moves, and the view with the liquid, from the command on until it ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject

from ventplanner.ui.panels.drain_card import DrainCard

if TYPE_CHECKING:
    from ventplanner.draining.bath import Rest
    from ventplanner.plan.model import Point
    from ventplanner.ui.view.pouring import Pouring
    from ventplanner.ui.window import MainWindow


class Draining(QObject):
    """While it is on, vents can be chosen, moved and accepted as ever: the pour plan follows them."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window, self._session = window, window.session
        self._view: Pouring | None = None
        self._part: object = None
        self._shown: tuple[object, ...] | None = None
        self.card: DrainCard | None = None
        self.at = 0
        for news in (window.session.changed, window.session.stepped):
            news.connect(self._follow)
        window.session.selection_changed.connect(self._selected)

    @property
    def is_on(self) -> bool:
        """Whether the pour plan is shown, or awaited."""
        return self._part is not None

    @property
    def is_by_hand(self) -> bool:
        """Whether the view shows a pose that the user chose, instead of a move of the plan."""
        return self.is_on and self._session.held is not None

    @property
    def count(self) -> int:
        """Number of moves that are known."""
        poured = self._session.poured if self.is_on else None
        return 0 if poured is None else len(poured.scenes)

    def switch(self) -> None:
        """Begin; bring back the card, if another one stands in its place; else end."""
        if self.is_on and self._has_card:
            self.end()
        elif self.is_on:
            self._session.select("")
            self._show_card()
        else:
            self._begin()

    def go(self, by: int) -> None:
        """To the next move, or the one before."""
        self.take(self.at + by)

    def take(self, at: int) -> None:
        """Show this move."""
        if 0 <= at < self.count and (at != self.at or self.is_by_hand):
            self.at = at
            self._session.let_go()
            self._follow()
            if self.card is not None:
                self.card.refresh()
            self._window.refresh_commands()

    def hold(self) -> None:
        """Hold it as it is seen: down in the picture is down, and what is in it runs."""
        if self.count and self._view is not None:
            self._session.hold(self._view.as_seen(), self._rest)

    def hold_as(self, hanging: bool) -> bool:
        """Hold it standing or hanging; False if it is not being drained."""
        if not self.is_on:
            return False
        from ventplanner.app.pouring import HANGING, STANDING

        self._session.hold(HANGING if hanging else STANDING, self._rest)
        return True

    def fill(self) -> None:
        """Hold it as it is held now, with its hollows full again."""
        held, poured = self._session.held, self._session.poured
        if poured is not None:
            self._session.hold((held.scene if held is not None else poured.scenes[self.at]).stance, None)

    @property
    def _rest(self) -> Rest | None:
        """What is in it now; None: it is full."""
        held, poured = self._session.held, self._session.poured
        if held is not None:
            return held.step.rest
        return None if poured is None else poured.done.steps[self.at].rest

    def end(self) -> bool:
        """Everything as before; False if it was not on."""
        if not self.is_on:
            return False
        state = self._session.state
        same = state is not None and state.solid is self._part
        self._part, self._shown = None, None
        self._session.watch_pour(False)
        if self._view is not None:
            self._view.end(self._window.stage.hanging, same_part=same)
        if self._has_card:
            self._window.card.unpin()
        self.card = None
        self._window.refresh_commands()
        return True

    @property
    def _has_card(self) -> bool:
        return self.card is not None and self._window.card.card is self.card

    def _begin(self) -> None:
        state, view = self._session.state, self._window.stage.view
        if state is None:
            return
        self._window.orienting.end()
        self._session.select("")
        self._part, self.at = state.solid, 0
        if view is not None:
            from ventplanner.ui.view.pouring import Pouring  # comes with the view

            self._window.stage.set_printed(None)
            self._view = Pouring(view)
            self._view.begin()
        self._session.watch_pour(True)
        self._show_card()
        self._follow()
        self._window.refresh_commands()

    def _show_card(self) -> None:
        self.card = DrainCard(self._session, self)
        self._window.card.show_card(self.card)

    def _selected(self) -> None:
        """Back from a vent to nothing: to the moves."""
        if self.is_on and not self._session.selected and not self._has_card:
            self._show_card()

    def _hints(self) -> tuple[tuple[Point, str], ...]:
        """Where vents would help that are not drawn as proposals anyway."""
        found: list[tuple[Point, str]] = []
        findings = self._session.findings
        if findings is None:
            return ()
        for each in self._session.helps or ():
            for vent in () if each.is_offered else each.vents:
                x, y, z = findings.scene.frame.to_build(np.array(vent.entry_mm)).tolist()
                found.append(((x, y, z), f"helps {vent.cavity}"))
        return tuple(found)

    def _follow(self) -> None:
        """Show what is known now; a part that is gone, or another one in its place, ends it."""
        if not self.is_on:
            return
        state = self._session.state
        if state is None or state.solid is not self._part:
            self.end()
            return
        poured = self._session.poured
        self.at = min(self.at, max(self.count - 1, 0)) if poured is not None else self.at
        held = self._session.held
        seen = poured, self.at, held, self._session.helps
        if self._view is not None and self._shown != seen:
            self._shown = seen
            scene = None if poured is None else poured.scenes[self.at]
            self._view.show(scene if held is None else held.scene, self._hints())
            self._window.refresh_commands()
