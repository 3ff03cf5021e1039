"""A session's passages: those that are offered, and what the user does to them."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject

from ventplanner.app import edits, joining
from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState
from ventplanner.errors import InputError
from ventplanner.parameters import DIAMETER_MM
from ventplanner.plan.model import Passage
from ventplanner.ui.journal import Journal
from ventplanner.ui.units import sentence
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.editing import Editing
from ventplanner.ui.work.lanes import Lane


class Joining(Editing):
    """Passages are named by a selection as "passage P1" when accepted, and "joining P1" as long as they are offered."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self.passage_refusal: tuple[str, float, str] | None = None
        """The passage that cannot have the diameter in mm that was typed last, and why; None if all is well."""
        self._widening = Lane("passage", self)
        self._widening.done.connect(lambda _, answer: answer())
        self._widening.failed.connect(lambda _, error: self._fail(error, "The passage stays as it is"))

    def _end(self) -> None:
        self.passage_refusal = None
        super()._end()

    def join(self, name: str) -> None:
        """Take a passage that is offered into the plan, and select it."""

        def edit(state: AppState) -> Edit:
            return joining.accept_passage(state, self._offered_join(name))

        self._edit(edit)

    def set_join_aside(self, name: str) -> None:
        """Do not offer a passage any more."""
        self._edit(lambda state: joining.set_passage_aside(state, self._offered_join(name)))

    def bring_joins_back(self, cavity: str) -> None:
        """Offer the passages of a cavity again that were set aside."""
        self._edit(lambda state: joining.bring_passages_back(state, cavity))

    def remove_passage(self, name: str) -> None:
        """Take a passage out of the plan."""
        self._edit(lambda state: joining.remove_passage(state, name))

    def set_passage_width(self, name: str, mm: float) -> None:
        """Make an accepted passage wider or narrower where it is; `passage_refusal` tells why that does not fit."""
        DIAMETER_MM.check(mm)
        self.passage_refusal = None
        state, findings = self.state, self.findings
        passage = None if state is None else joining.named(state.plan.passages, name)
        if state is None or findings is None or passage is None or self.stale:
            return
        marked = findings.keeping_clear(state.keep_clear)

        def work(_: object) -> Callable[[], None]:
            from ventplanner.plan.passage_width import resized
            from ventplanner.plan.refusal import with_place

            found = resized(marked, state.plan, passage, mm, state.rules)
            found = with_place(marked.scene.frame, found) if isinstance(found, str) else found
            return lambda: self._widened(name, mm, found)

        self._widening.ask(f"{name} {mm}", work)

    def size_by_need(self) -> None:
        """Make all accepted vents and passages as wide as the limits ask, where they are; those that cannot stay as
        they are, and `said` tells why."""
        found = self.widths_by_need
        if found is not None:
            self._edit(lambda state: edits.set_widths(state, found.accepted, found.passages))
            if told := found.told():
                self.said.emit(sentence(told))

    def _widened(self, name: str, mm: float, found: Passage | str) -> None:
        if isinstance(found, str):
            self.passage_refusal = (name, mm, found)
            self._tell_changed()
        elif joining.named(self.plan.passages, name) is not None:
            self._edit(lambda state: joining.set_passage_width(state, found))

    def _offered_join(self, name: str) -> Passage:
        found = joining.named(self.joins, name)
        if found is None:
            raise InputError(f"There is no passage {name} on offer any more.", "Choose another one.")
        return found
