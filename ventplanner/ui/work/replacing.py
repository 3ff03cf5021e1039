"""A session's part replaced by one that a worker made of it: as one edit, and so that a crash does not lose it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject

from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState
from ventplanner.geometry.solid import Body, Solid
from ventplanner.ui.journal import Journal
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.lanes import Lane
from ventplanner.ui.work.laying import Laying

if TYPE_CHECKING:
    from ventplanner.progress import Progress

Replace = Callable[[AppState, Solid], Edit]
"""From the state and the new part: the edit."""


class Replacing(Laying):
    """What comes from a worker is made a part, named by its digest and put beside the journal in a thread: a million
    triangles take a tenth of a second of each, and no file holds them yet."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._replaced_count = 0
        self._replacing = Lane("another part", self)
        self._replacing.done.connect(lambda _, answer: answer())
        self._replacing.failed.connect(lambda _, error: self._fail(error, "The part stays as it is"))

    def _replace_part(
        self,
        found: dict[str, Any],
        make: Replace,
        holds: Callable[[AppState], bool],
        then: Callable[[], object],
        names: Sequence[str] | None = None,
    ) -> None:
        """Take the vertices, faces and bodies (k, 2) of an answer as the part, then do what follows from it. holds:
        whether the answer is still one for the state of that moment. names: of the bodies (default: those of now)."""
        state = self.state
        if state is None:
            return
        opened = self._opened_count

        def work(_: Progress) -> Callable[[], None]:
            called = [body.name for body in state.solid.bodies] if names is None else names
            named = zip(called, found["bodies"].tolist(), strict=True)
            bodies = tuple(Body(name, start, stop) for name, (start, stop) in named)
            solid = Solid(found["vertices"], found["faces"], bodies, state.solid.source)
            edit = make(state, solid)
            self._journal.keep_part(edit.state.solid)

            def take() -> None:
                now = self.state
                if self._opened_count != opened or now is None or not holds(now):
                    self.said.emit("The work on the part went on meanwhile: it stays as it is.")
                    return
                self._did(self._as_step(edit if now is state else make(now, solid), False))
                then()

            return lambda: self._after_fit(take)

        self._replaced_count += 1
        self._replacing.ask(f"part {self._replaced_count}", work)
