"""One step of a drag: fit the vent at its new place, and see how the part prints with it; both in a thread."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState
from ventplanner.ui.work.analyst import preview_of
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.analysis.cups import Cups
    from ventplanner.analysis.findings import Findings
    from ventplanner.plan.model import Vent

Fitting = Callable[["Findings", "Vent", "tuple[Vent, ...]"], "Vent | str"]
"""From findings, a vent and the others to the vent as it fits, or why it does not."""

Naming = Callable[["Vent"], Edit]
"""From the fitted vent to the edit that takes it into the plan."""


@dataclass(frozen=True, eq=False)
class Step:
    """What came of a step: the vent that fits, or a refusal in a few words; and the cups with it."""

    name: Naming
    vent: Vent | None
    refusal: str
    preview: Cups | None


class Shaper(QObject):
    """Takes steps one at a time; of those asked for meanwhile only the latest."""

    stepped = Signal(object)
    failed = Signal(object, str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.lane = Lane("drag", self)
        self.lane.done.connect(lambda _, step: self.stepped.emit(step))
        self.lane.failed.connect(lambda _, error: self.failed.emit(error, "The vent could not be placed"))
        self._count = 0

    def ask(
        self,
        findings: Findings,
        state: AppState,
        vent: Vent,
        fitting: Fitting,
        name: Naming,
    ) -> None:
        """Fit a vent of this state anew."""
        from ventplanner.app.dragging import others_of

        plan, marks = state.plan, state.keep_clear
        others = others_of(plan, vent.id)

        def step(_: object) -> Step:
            found = fitting(findings.keeping_clear(marks), vent, others)
            if isinstance(found, str):
                return Step(name, None, found, None)
            return Step(name, found, "", preview_of(findings, plan.with_vent(found).drills))

        self._count += 1
        self.lane.ask(str(self._count), step)
