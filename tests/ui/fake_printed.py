"""What a session knows about the part as printed, to be set by a test."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QObject, Signal

from ventplanner.plan.model import Vent


class FakePrinted(QObject):
    """See `ventplanner.ui.work.known.Known`."""

    printed_changed = Signal()
    calls: list[tuple[Any, ...]]

    def __init__(self) -> None:
        super().__init__()
        self.printed: Any = None
        self.is_printed_awaited = self.is_way_out_awaited = False
        self.ways_out: dict[str, Any] = {}

    def way_out(self, vent: Vent) -> Any:
        return self.ways_out.get(vent.id)

    def check_printed(self) -> None:
        self.calls.append(("check_printed",))

    def watch_printed(self, who: str, on: bool) -> None: ...
