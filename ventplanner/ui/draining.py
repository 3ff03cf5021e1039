"""Playing the pour plan: the card with its moves, and the view with the liquid, from the command on until it ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ventplanner.ui.card_mode import CardMode
from ventplanner.ui.panels.drain_card import DrainCard

if TYPE_CHECKING:
    from ventplanner.draining.bath import Rest
    from ventplanner.plan.model import Point
    from ventplanner.ui.view.pouring import Pouring
    from ventplanner.ui.view.view import View
    from ventplanner.ui.window import MainWindow


class Draining(CardMode):
    """While it is on, vents can be chosen, moved and accepted as ever: the pour plan follows them."""

    card: DrainCard | None

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._view: Pouring | None = None
        self._shown: tuple[object, ...] | None = None
        self.at = 0

    @property
    def is_by_hand(self) -> bool:
        """Whether the view shows a pose that the user chose, instead of a move of the plan."""
        return self.is_on and self._session.held is not None

    @property
    def count(self) -> int:
        """Number of moves that are known."""
        poured = self._session.poured if self.is_on else None
        return 0 if poured is None else len(poured.scenes)

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

    def _enter(self, view: View | None) -> None:
        self.at = 0
        if view is not None:
            from ventplanner.ui.view.pouring import Pouring  # comes with the view

            self._view = Pouring(view)
            self._view.begin()
        self._session.watch_pour(True)

    def _leave(self, *, same_part: bool) -> None:
        self._shown = None
        self._session.watch_pour(False)
        if self._view is not None:
            self._view.end(self._window.stage.hanging, same_part=same_part)

    def _new_card(self) -> DrainCard:
        return DrainCard(self._session, self)

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

    def _follow_part(self) -> None:
        """Show the move, or the pose that was chosen, as far as it is known."""
        poured = self._session.poured
        self.at = min(self.at, max(self.count - 1, 0)) if poured is not None else self.at
        held = self._session.held
        seen = poured, self.at, held, self._session.helps
        if self._view is not None and self._shown != seen:
            self._shown = seen
            scene = None if poured is None else poured.scenes[self.at]
            self._view.show(scene if held is None else held.scene, self._hints())
            self._window.refresh_commands()
