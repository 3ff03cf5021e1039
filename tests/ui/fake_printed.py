"""What a session knows about the part as printed, to be set by a test, and the profile that it is printed with."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QObject, Signal

from ventplanner.app import edits
from ventplanner.app.state import AppState
from ventplanner.plan.model import Vent
from ventplanner.profile import Profile


class FakePrinted(QObject):
    """See `ventplanner.ui.work.known.Known`."""

    printed_changed = Signal()
    calls: list[tuple[Any, ...]]
    history: Any
    state: AppState | None
    _edit: Any
    _tell: Any

    def __init__(self) -> None:
        super().__init__()
        self.printed: Any = None
        self.is_printed_awaited = self.is_way_out_awaited = False
        self.ways_out: dict[str, Any] = {}
        self.usual_profile = Profile()

    def way_out(self, vent: Vent) -> Any:
        return self.ways_out.get(vent.id)

    def check_printed(self) -> None:
        self.calls.append(("check_printed",))

    def watch_printed(self, who: str, on: bool) -> None: ...

    @property
    def profile(self) -> Profile:
        return (self.state and self.state.profile) or self.usual_profile

    def set_profile(self, profile: Profile) -> None:
        if self.history is not None:
            self._edit(edits.set_profile, profile)

    def set_usual_profile(self, profile: Profile) -> None:
        self.usual_profile = profile
        self._tell()
