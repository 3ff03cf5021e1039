"""A session asked to mend, to drain, to be turned: it keeps what it was asked for, and a test gives the answers."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Signal
from ui.fake_printed import FakePrinted


class FakeMending(FakePrinted):
    """See `ventplanner.ui.work.mending.Mending` and `ventplanner.ui.work.orienting.Orienting`."""

    mend_found = Signal(object)
    mend_wanted = Signal()
    mended = Signal(object)

    def look_for_damage(self, rules: Any) -> None:
        self.calls.append(("look_for_damage", rules))

    def mend(self) -> None:
        self.calls.append(("mend",))

    def forget_mending(self) -> None:
        self.calls.append(("forget_mending",))

    poured = None
    is_pour_given_up = False
    helps = None
    is_help_coming = False
    held = None

    orientations = None
    are_orientations_coming = False

    def look_for_orientations(self) -> None:
        self.calls.append(("look_for_orientations",))

    def stop_orienting(self) -> None:
        self.calls.append(("stop_orienting",))

    def watch_pour(self, on: bool) -> None:
        self.calls.append(("watch_pour", on))
