"""Where the window keeps its own files, and its log."""

from __future__ import annotations

import faulthandler
import logging
import os
from contextlib import suppress
from pathlib import Path

import platformdirs

OWN_FOLDER = "VENTPLANNER_STATE_DIR"
"""Environment variable that names another folder for settings, journal and log."""

NAME = "ventplanner.log"
MOST_BYTES, KEPT, MOST_BYTES_A_RUN = 500_000, 2, 2_000_000

log = logging.getLogger("ventplanner")


def state_folder() -> Path:
    """The folder for journal and log; it need not exist yet."""
    own = os.environ.get(OWN_FOLDER)
    return Path(own) if own else platformdirs.user_state_path("ventplanner", appauthor=False)


def config_folder() -> Path:
    """The folder for the settings; it need not exist yet."""
    own = os.environ.get(OWN_FOLDER)
    return Path(own) if own else platformdirs.user_config_path("ventplanner", appauthor=False)


class _Log(logging.FileHandler):
    """Appends, as other windows may do at the same time. What would become too long says so and ends."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, encoding="utf-8")
        self._room = MOST_BYTES_A_RUN

    def emit(self, record: logging.LogRecord) -> None:
        """One line, as long as there is room."""
        if self._room <= 0:
            return
        self._room -= len(self.format(record)) + 1
        super().emit(record)
        if self._room <= 0:
            record = log.makeRecord(log.name, logging.WARNING, "", 0, "The log is full: no more is written.", (), None)
            super().emit(record)


def start_log(folder: Path | None = None) -> Path | None:
    """Begin to log into a file, crashes of the interpreter too; returns the file, None if none can be written.

    A long file is put aside now and never later: several windows may be writing into it, and crashes are written
    through the file as it was opened.
    """
    folder = state_folder() if folder is None else folder
    path = folder / NAME
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _put_aside(path)
        handler = _Log(path)
    except OSError:
        return None
    handler.setFormatter(logging.Formatter("%(asctime)s %(process)d %(levelname)s %(message)s"))
    stop_log()
    log.addHandler(handler)
    log.setLevel(logging.INFO)
    if handler.stream is not None:
        faulthandler.enable(handler.stream)
    return path


def stop_log() -> None:
    """Close the log file."""
    if faulthandler.is_enabled():
        faulthandler.disable()
    for handler in [h for h in log.handlers if isinstance(h, _Log)]:
        log.removeHandler(handler)
        handler.close()


def _put_aside(path: Path) -> None:
    """Begin a new file where the old one is long; the last ones are kept under a number."""
    if not path.exists() or path.stat().st_size < MOST_BYTES:
        return
    with suppress(OSError):  # where an open file cannot be renamed it is written on
        for number in range(KEPT, 1, -1):
            older = path.with_name(f"{NAME}.{number - 1}")
            if older.exists():
                older.replace(path.with_name(f"{NAME}.{number}"))
        path.replace(path.with_name(f"{NAME}.1"))
