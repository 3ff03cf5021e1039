"""Reading and saving in threads, and the eye kept on the file that was read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal

from ventplanner.analysis.limits import check_pitch, checked_part
from ventplanner.app.state import BY_NEED, AppState, from_saved
from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import Solid
from ventplanner.io.project import SUFFIX, load_plan
from ventplanner.io.supports import found_again
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
    stamp = stamp_of(path)
    progress("Reading the file", 0.0)
    if is_plan(path):
        saved = load_plan(path)
        state = from_saved(replace(saved, supports=found_again(saved.supports, saved.part, progress)))
    else:
        state = AppState(_part(path, unit, progress), rules=BY_NEED)
    checked_part(state.solid)
    check_pitch(state.solid, state.pose, state.options.pitch_mm)
    plan_path = path if is_plan(path) else ""
    return Opened(state, path, unit, plan_path, stamp=stamp, bare=bare_picture(state.solid, state.pose))


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
    kept = journal.kept_part()
    if kept is None:
        opened = read_file(entry.path, entry.unit, progress)
    else:
        picture = bare_picture(kept, AppState(kept).pose)
        opened = Opened(AppState(kept), entry.path, entry.unit, stamp=stamp_of(entry.path), bare=picture)
    state = recovered(journal, opened.state.solid)
    state = replace(state, supports=found_again(state.supports, state.solid, progress))
    return replace(opened, state=state, plan_path=entry.plan_path, is_recovered=True)


def is_plan(path: str) -> bool:
    """Whether a path names a plan file."""
    return Path(path).suffix.lower() == SUFFIX


class Watch(QObject):
    """Tells when a file was changed on disk by another program, or is gone from there."""

    changed = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._told: dict[str, Stamp | None] = {}
        self._known: dict[str, Stamp | None] = {}
        self._watcher = QFileSystemWatcher(self)
        self._settle = QTimer(self, singleShot=True, interval=SETTLE_MS)
        self._settle.timeout.connect(self._look)
        # The folder too: many programs put a new file in the place of the old one, which ends the watch on it.
        self._watcher.fileChanged.connect(lambda _: self._settle.start())
        self._watcher.directoryChanged.connect(lambda _: self._settle.start())

    def follow(self, files: Mapping[str, Stamp | None]) -> None:
        """Watch these files and no others, each as it was when it had this stamp.

        None: as before, if it was watched, else as it is now.
        """
        if watched := [*self._watcher.files(), *self._watcher.directories()]:
            self._watcher.removePaths(watched)
        known, told = self._known, self._told
        self._known, self._told = {}, {}
        for path, stamp in files.items():
            if not path:
                continue
            now = stamp_of(path)
            self._known[path] = stamp or known.get(path, now)
            self._told[path] = stamp or told.get(path, now)
            if now is not None:
                self._watcher.addPaths([path, str(Path(path).absolute().parent)])
            if now != self._told[path]:
                self._settle.start()

    def seen(self, path: str, stamp: Stamp | None = None) -> None:
        """This file was written by the program itself (or read again): that is no news."""
        for watched in self._known:
            if Path(path).resolve() == Path(watched).resolve():
                self._known[watched] = self._told[watched] = stamp or stamp_of(watched)

    def is_news(self, path: str) -> bool:
        """Whether a watched file is another one than this program last read or wrote."""
        now = stamp_of(path)
        return now is not None and path in self._known and now != self._known[path]

    def _look(self) -> None:
        for path, before in list(self._told.items()):
            now = stamp_of(path)
            if now is not None and path not in self._watcher.files():
                self._watcher.addPath(path)
            if now != before:
                self._told[path] = now
                if before is not None or now != self._known[path]:  # one that came back as it was is no news
                    self.changed.emit(path)


def stamp_of(path: str) -> Stamp | None:
    """The stamp of a file now; None if there is none, or it may not be looked at."""
    try:
        found = Path(path).stat() if path else None
    except (OSError, ValueError):
        return None
    return None if found is None else (found.st_mtime_ns, found.st_size)


Reader = Callable[[str, "str | None", Progress], Opened]
