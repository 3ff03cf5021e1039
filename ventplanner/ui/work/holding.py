"""A session's part held by hand: liquid that settles in a pose that the user chose, once the pour plan is known."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.helping import Helping
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.app.holding import Held
    from ventplanner.app.pouring import Poured, Stance
    from ventplanner.draining.bath import Rest

_CANNOT = "What stands in the part could not be worked out"


class Holding(Helping):
    """What is held counts for the pour plan that it began with; with another one it is gone."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._by_hand: tuple[Poured, Held] | None = None
        self._holds = count()
        self._holding = Lane("hold", self, impatient=True)
        self._holding.done.connect(lambda _, answer: self._hold_came(answer))
        self._holding.failed.connect(lambda _, error: self._fail(error, _CANNOT))
        self._holding.progressed.connect(lambda step, share: self._tell(j.HOLDING, step, share))
        self._holding.busy_changed.connect(lambda: self._set_busy(j.HOLDING, self._holding.is_busy, cancellable=False))

    @property
    def held(self) -> Held | None:
        """The part as it is held by hand; None if it is not, or not yet."""
        return self._by_hand[1] if self._by_hand is not None and self._by_hand[0] is self.poured else None

    def hold(self, stance: Stance, start: Rest | None) -> None:
        """Hold it so, with what is in it at rest elsewhere, or with its hollows full (None); `changed` tells when
        nothing runs any more. Nothing happens before the pour plan is known."""
        findings, poured, profile = self.findings, self.poured, self.profile
        if findings is None or poured is None:
            return
        skin = self._by_hand[1].skin if self._by_hand is not None and self._by_hand[0] is poured else None

        def work(progress: Progress) -> object:
            from ventplanner.app.holding import hold_so

            return poured, hold_so(findings, poured, stance, start, profile, skin, progress)

        self._holding.ask(str(next(self._holds)), work)

    def let_go(self) -> None:
        """It is not held by hand any more."""
        self._holding.stop()
        self._by_hand = None

    def watch_pour(self, on: bool) -> None:
        """As before; what is held by hand is gone if nobody looks."""
        if not on:
            self.let_go()
        super().watch_pour(on)

    def _hold_came(self, answer: tuple[Poured, Held]) -> None:
        self._by_hand = answer
        self._tell_changed()

    def _end(self) -> None:
        """Nothing of this part is held any more."""
        self.let_go()
        super()._end()
