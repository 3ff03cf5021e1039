"""Where the window keeps its own files, and its log."""

from __future__ import annotations

import faulthandler
import logging
import os
from logging.handlers import RotatingFileHandler
from pathlib import Path

import platformdirs

OWN_FOLDER = "VENTPLANNER_STATE_DIR"
"""Environment variable that names another folder for settings, journal and log."""

NAME = "ventplanner.log"
MOST_BYTES, KEPT = 500_000, 2

log = logging.getLogger("ventplanner")


def state_folder() -> Path:
    """The folder for journal and log; it need not exist yet."""
    own = os.environ.get(OWN_FOLDER)
    return Path(own) if own else platformdirs.user_state_path("ventplanner", appauthor=False)


def config_folder() -> Path:
    """The folder for the settings; it need not exist yet."""
    own = os.environ.get(OWN_FOLDER)
    return Path(own) if own else platformdirs.user_config_path("ventplanner", appauthor=False)


def start_log(folder: Path | None = None) -> Path | None:
    """Begin to log into a file, crashes of the interpreter too; returns the file, None if none can be written."""
    folder = state_folder() if folder is None else folder
    path = folder / NAME
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handler = RotatingFileHandler(path, maxBytes=MOST_BYTES, backupCount=KEPT, encoding="utf-8")
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
    for handler in [h for h in log.handlers if isinstance(h, RotatingFileHandler)]:
        log.removeHandler(handler)
        handler.close()
