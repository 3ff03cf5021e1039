"""Follows how the part breathes as printed: at leisure, whenever both the flow and the print of a plan are known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from ventplanner.app.results import Results
from ventplanner.app.state import AppState
from ventplanner.ui.work.breathing import Breathing
from ventplanner.ui.work.lanes import Lane
from ventplanner.ui.work.printing import Printing

if TYPE_CHECKING:
    from ventplanner.app.as_printed import BreathingPrinted

_CANNOT = "The suction as printed could not be computed"


class PrintedFlow(QObject):
    """`found` is the flow as printed of the last plan that was solved; `is_current` tells whether that is the present
    one. How a part prints is computed only when somebody looks (`Printing`), and so is this."""

    changed = Signal()
    failed = Signal(object, str)

    def __init__(
        self, results: Results, breathing: Breathing, printing: Printing, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.found: BreathingPrinted | None = None
        self._key = ""
        self._results, self._breathing, self._printing = results, breathing, printing
        self._state: AppState | None = None
        self._refused: set[str] = set()
        self.lane = Lane("flow as printed", self, impatient=True, keep_late=True)
        self.lane.done.connect(self._keep)
        self.lane.failed.connect(self._fail)
        breathing.changed.connect(self._ask)
        printing.changed.connect(self._ask)

    @property
    def is_current(self) -> bool:
        """Whether `found` is of the present plan and profile."""
        return self.found is not None and self._is_founded and self._key == self._present_key()

    @property
    def is_busy(self) -> bool:
        """Whether an answer is on the way: this one, or one that it rests on."""
        printing, breathing = self._printing, self._breathing
        return printing.is_busy or self.lane.is_busy or (breathing.is_busy and printing.is_current)

    def follow(self, state: AppState) -> None:
        """This is the plan now; the flow and the print follow it already."""
        self._state = state
        self._ask()

    def leave(self) -> None:
        """No part, or none that is known."""
        self.lane.stop()
        self._state = self.found = None
        self._key = ""
        self._refused.clear()

    def retry(self) -> None:
        """Try again what failed, too."""
        self._refused.clear()

    @property
    def _is_founded(self) -> bool:
        """Whether the flow and the print are known, of the present plan and of one and the same profile."""
        breathing, printing = self._breathing, self._printing
        return breathing.profile == printing.profile and breathing.is_current and printing.is_current

    def _present_key(self) -> str:
        if self._state is None:
            return ""
        from ventplanner.app.as_printed import printed_flow_key

        return printed_flow_key(self._state, self._breathing.profile)

    def _ask(self) -> None:
        state, flow, print_ = self._state, self._breathing.found, self._printing.found
        if state is None or not self._is_founded or flow is None or print_ is None:
            self.lane.stop()
            return
        key = self._present_key()
        found: BreathingPrinted | None = self._results.get(key)
        if found is not None:
            if found is not self.found or key != self._key:
                self.found, self._key = found, key
                self.changed.emit()
        elif key not in self._refused:
            from ventplanner.app.as_printed import breathing_printed

            self.lane.ask(key, lambda progress: breathing_printed(flow, state.plan, print_, progress))

    def _keep(self, key: str, result: object) -> None:
        if self._state is None:
            return
        self._results.put(key, result)
        self._ask()

    def _fail(self, key: str, error: object) -> None:
        self._refused.add(key)
        self.failed.emit(error, _CANNOT)
        self.changed.emit()
