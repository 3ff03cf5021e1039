"""Reading and saving in threads, and the eye kept on the file that was read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal

from ventplanner.analysis.limits import check_pitch, checked_part
from ventplanner.app.state import AppState, from_saved
from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import Solid
from ventplanner.io.project import SUFFIX, load_plan
from ventplanner.progress import Progress
from ventplanner.ui.bare import bare_picture
from ventplanner.ui.journal import Abandoned, recovered

if TYPE_CHECKING:
    from ventplanner.ui.picture import Picture

SETTLE_MS = 400
"""A program that writes a file does so in several steps; it is looked at when they are over."""


Stamp = tuple[int, int]
"""When a file was last written to, in ns, and its size."""


@dataclass(frozen=True, eq=False)
class Opened:
    """A file that was read. path: as asked for. plan_path: the same if it is a plan file, else "".

    bare: the part alone. stamp: the file's before it was read, so that a change meanwhile is noticed.
    """

    state: AppState
    path: str
    unit: str | None
    plan_path: str = ""
    is_recovered: bool = False
    stamp: Stamp | None = None
    bare: Picture | None = None

    @property
    def name(self) -> str:
        """What the first state is called in the history."""
        return f"Open {Path(self.path).name}"


def read_file(path: str, unit: str | None, progress: Progress) -> Opened:
    """Read a part or a plan file, and make sure that it can be worked on."""
    found = stamp(path)
    progress("Reading the file", 0.0)
    if is_plan(path):
        saved = load_plan(path)
        state = from_saved(saved)
    else:
        state = AppState(_part(path, unit, progress))
    checked_part(state.solid)
    check_pitch(state.solid, state.pose, state.options.pitch_mm)
    plan_path = path if is_plan(path) else ""
    return Opened(state, path, unit, plan_path, stamp=found, bare=bare_picture(state.solid, state.pose))


def _part(path: str, unit: str | None, progress: Progress) -> Solid:
    from ventplanner.io.meshes import read

    try:
        return read(path, unit, progress)
    except OSError as error:  # such as a name that is too long for the system
        raise FileReadError(f"{path:.80}: {error.strerror or error}.", "Check the path.") from error


def read_abandoned(journal: Abandoned, progress: Progress) -> Opened:
    """The work that a journal tells of, with its part read from the file again."""
    entry = journal.entry
    if not entry.path:
        raise FileReadError("The journal names no file.", "Discard the recovery.")
    opened = read_file(entry.path, entry.unit, progress)
    state = recovered(journal, opened.state.solid)
    return replace(opened, state=state, plan_path=entry.plan_path, is_recovered=True)


def is_plan(path: str) -> bool:
    """Whether a path names a plan file."""
    return Path(path).suffix.lower() == SUFFIX


class Watch(QObject):
    """Tells when a file was changed on disk by another program; its disappearance alone is not told."""

    changed = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._path = ""
        self._stamp: Stamp | None = None
        self._watcher = QFileSystemWatcher(self)
        self._settle = QTimer(self, singleShot=True, interval=SETTLE_MS)
        self._settle.timeout.connect(self._look)
        # The folder too: many programs put a new file in the place of the old one, which ends the watch on it.
        self._watcher.fileChanged.connect(lambda _: self._settle.start())
        self._watcher.directoryChanged.connect(lambda _: self._settle.start())

    def follow(self, path: str, since: Stamp | None = None) -> None:
        """Watch this file, as it was when it had the stamp `since` (default: as it is now); "" watches nothing."""
        if watched := [*self._watcher.files(), *self._watcher.directories()]:
            self._watcher.removePaths(watched)
        self._path = path
        now = stamp(path)
        self._stamp = since or now
        if now is not None:
            self._watcher.addPaths([path, str(Path(path).absolute().parent)])
        if now != self._stamp:
            self._settle.start()

    def seen(self, path: str) -> None:
        """This file was written by the program itself: that is no news."""
        if self._path and Path(path).resolve() == Path(self._path).resolve():
            self._stamp = stamp(self._path)

    def _look(self) -> None:
        now = stamp(self._path)
        if not self._path or now is None:
            return
        if self._path not in self._watcher.files():
            self._watcher.addPath(self._path)
        if now != self._stamp:
            self._stamp = now
            self.changed.emit(self._path)


def stamp(path: str) -> Stamp | None:
    """The stamp of a file as it is now; None if it is not there or cannot be looked at."""
    try:
        found = Path(path).stat() if path else None
    except (OSError, ValueError):
        return None
    return None if found is None else (found.st_mtime_ns, found.st_size)


Reader = Callable[[str, "str | None", Progress], Opened]
