"""The colours that the part has in its own file: read at rest, in a thread of its own, once for each part."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from ventplanner.ui.log import log
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.app.file_colours import Coloured
    from ventplanner.app.state import AppState
    from ventplanner.geometry.solid import Solid

KEPT = 4
"""Colours of so many parts are kept, for undo: by then the file may be another one."""


class FileColours(QObject):
    """`found`: those of the present part; () as long as they are not known, and if it has none.

    offered_for: path of the part of which the window has said so.
    """

    changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.lane = Lane("colours", self, keep_late=True)
        self.lane.done.connect(self._keep)
        self.lane.failed.connect(self._miss)
        self._key = self.offered_for = ""
        self._known: dict[str, tuple[Coloured, ...]] = {}

    @property
    def found(self) -> tuple[Coloured, ...]:
        """The largest area first."""
        return self._known.get(self._key, ())

    def follow(self, state: AppState | None, *, known: bool) -> None:
        """This is the state now. known: the part has been analysed; colours wait for that."""
        key = "" if state is None else f"{state.path} {state.solid.digest}"
        if key != self._key:
            self._key = key
            self.changed.emit()
        if state is not None and known and key not in self._known:
            solid = state.solid
            self.lane.ask(key, lambda _: _read(solid))

    def _keep(self, key: str, found: object) -> None:
        assert isinstance(found, tuple)
        self._known[key] = found
        for old in list(self._known)[:-KEPT]:
            del self._known[old]
        if key == self._key and found:
            self.changed.emit()

    def _miss(self, key: str, error: object) -> None:
        """The file is gone, or another one by now, which the window tells by itself: its colours are not known."""
        log.info("Colours of the file: %s", error)
        self._known[key] = ()


def _read(solid: Solid) -> tuple[Coloured, ...]:
    from ventplanner.app.file_colours import file_colours

    return file_colours(solid)
