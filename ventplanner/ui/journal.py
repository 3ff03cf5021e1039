"""The journal: after each edit the work is written down, so that a crash loses none of it.

One small file for each running program: where the part came from, its digest, and the plan. A part that no file holds,
because it was hollowed or an opening of it closed, lies beside it as a plan file, named by its digest. A lock on a file
beside it is held as long as the program lives, and given back by the system however it ends: so a journal without a
lock is one to recover. Where the file system knows no locks, nothing tells a living program from a dead one: there
journals are written but not offered.
"""

from __future__ import annotations

import base64
import json
import os
import re
import secrets
import shutil
import threading
import zlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any

from ventplanner.app.state import AppState, from_saved, to_saved
from ventplanner.errors import FileReadError, MeshError, ProjectError, VentplannerError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid
from ventplanner.io import plan_json
from ventplanner.io.project import SUFFIX, SavedPlan, load_plan, save_plan
from ventplanner.ui.filelock import NoLocksError, locked, remove
from ventplanner.ui.log import log, state_folder

FOLDER = "journal"
FORMAT = "ventplanner-journal/1"


@dataclass(frozen=True)
class Entry:
    """What a journal holds. path: the file that was opened (a part or a plan). plan: the bytes of a `plan.json`.
    keep_clear: the marked faces, packed, "" for none."""

    path: str
    unit: str | None
    plan_path: str
    digest: str
    plan: bytes
    part_name: str = ""
    vents: int = 0
    keep_clear: str = ""


class Journal:
    """The journal of this program. Nothing is written until there is something to lose."""

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = (state_folder() / FOLDER) if folder is None else folder
        self._path = self._new_path()
        self._lock: IO[bytes] | None = None
        self._holding = threading.Lock()
        self._complained = self._is_written = False
        self._before: Abandoned | None = None

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    def write(self, state: AppState, path: str, unit: str | None, plan_path: str) -> bool:
        """Write the work down, whole or not at all; False (and one line in the log) if that is not possible."""
        self._is_written = False
        try:
            entry = {
                "format": FORMAT,
                "path": path,
                "unit": unit,
                "plan_path": plan_path,
                "digest": state.solid.digest,
                "plan": json.loads(plan_json.encode(to_saved(state))),
                "keep_clear": _packed(state.keep_clear),
            }
            self._folder.mkdir(parents=True, exist_ok=True)
            self._hold()
            draft = _draft_of(self._path)
            with draft.open("w", encoding="utf-8") as file:
                file.write(json.dumps(entry))
                file.flush()
                os.fsync(file.fileno())  # else a power cut could leave the new name with nothing in it
            draft.replace(self._path)
        except (OSError, VentplannerError, UnicodeEncodeError) as error:
            if not self._complained:
                log.warning("The journal cannot be written: %s", error)
            self._complained = True
            return False
        self._is_written = True
        self._discard_before()
        return True

    def keep_part(self, solid: Solid) -> bool:
        """Put a part that no file holds beside the journal, until the part is closed; may be called from a thread.
        False (and a line in the log) if that is not possible."""
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            self._hold()
            save_plan(_part_beside(self._path, solid.digest), SavedPlan(solid), overwrite=True)
        except (OSError, VentplannerError) as error:
            log.warning("The part cannot be kept beside the journal: %s", error)
            return False
        return True

    def forget(self) -> None:
        """There is no part any more: nor a way back to one that no file holds."""
        self.clear()
        _remove_parts(self._path)

    def take_over(self, journal: Abandoned) -> None:
        """The work of another journal is now written here: it is discarded, as soon as that is true."""
        if (kept := journal.part_file) is not None:
            mine = _part_beside(self._path, journal.entry.digest)
            try:
                os.link(kept, mine)
            except OSError:  # a file system without links
                with suppress(OSError):
                    shutil.copyfile(kept, mine)
        self._before = journal
        if self._is_written:
            self._discard_before()

    def clear(self) -> None:
        """There is nothing to lose any more."""
        self._is_written = False
        with suppress(OSError):
            self._path.unlink(missing_ok=True)
        self._discard_before()

    def close(self, keep: bool = False) -> None:
        """End the journal; `keep` leaves what was written to be recovered at the next start."""
        if not keep:
            self.clear()
        if self._lock is not None:
            with suppress(OSError):
                _draft_of(self._path).unlink(missing_ok=True)
            if keep and self._path.exists():
                self._lock.close()
            else:
                _remove_parts(self._path)
                remove(self._lock, _lock_of(self._path))
            self._lock = None

    def _discard_before(self) -> None:
        before, self._before = self._before, None
        if before is not None:
            before.discard()

    def _new_path(self) -> Path:
        return self._folder / f"{os.getpid()}-{secrets.token_hex(4)}.json"

    def _hold(self) -> None:
        """Hold the lock before anything is written: another window would take the journal for one left behind."""
        try:
            with self._holding:
                while self._lock is None:
                    self._lock = locked(_lock_of(self._path))
                    if self._lock is None:  # another window is just tidying up: another name
                        self._path = self._new_path()
        except NoLocksError as error:
            if not self._complained:
                log.warning("The journal is written without a lock: %s", error)
            self._complained = True


@dataclass(frozen=True)
class Abandoned:
    """A journal whose program has ended. when: seconds since 1970 of the last edit."""

    file: Path
    when: float
    entry: Entry

    def state_for(self, part: Solid) -> AppState:
        """The work on this part, read again. Raises ProjectError if the plan cannot be read."""
        document = plan_json.decode(self.entry.plan)
        marks = _unpacked(self.entry.keep_clear, part)
        return from_saved(replace(plan_json.saved_of(document, part, marks), part=part))

    @property
    def part_file(self) -> Path | None:
        """Where the part is, if no file of the user's holds it."""
        if not re.fullmatch("[0-9a-f]{32}", self.entry.digest):
            return None
        file = _part_beside(self.file, self.entry.digest)
        return file if file.exists() else None

    def kept_part(self) -> Solid | None:
        """The part, if no file of the user's holds it. Raises FileReadError and ProjectError if it is damaged."""
        file = self.part_file
        return None if file is None else load_plan(file).part

    def discard(self) -> None:
        """Remove it."""
        with suppress(OSError):
            self.file.unlink(missing_ok=True)
            _remove_unused(self.file)


def _packed(marks: FaceMask | None) -> str:
    """The surface to be kept clear as text: zlib, then base64; "" for none."""
    return base64.b64encode(zlib.compress(marks.to_bytes(), 1)).decode("ascii") if marks is not None else ""


def _unpacked(text: str, part: Solid) -> FaceMask | None:
    if not text:
        return None
    try:
        return FaceMask.from_bytes(len(part.faces), zlib.decompress(base64.b64decode(text, validate=True)))
    except (ValueError, zlib.error, MeshError) as error:
        raise ProjectError(
            "The surface to be kept clear is damaged in the journal.", "Discard the recovery."
        ) from error


def abandoned(folder: Path | None = None) -> tuple[Abandoned, ...]:
    """Journals of programs that have ended, the latest first. One that cannot be read is set aside and logged.

    Locks and drafts that such programs left without a journal are removed.
    """
    folder = (state_folder() / FOLDER) if folder is None else folder
    found = tuple(sorted(_abandoned(folder), key=lambda found: -found.when))
    for file in {file.with_suffix(".json") for suffix in (".lock", ".new") for file in folder.glob(f"*{suffix}")}:
        with suppress(OSError):
            _remove_unused(file)
    return found


def _remove_unused(file: Path) -> None:
    """Remove lock and draft of a journal, unless it is there or its program is alive."""
    if file.exists():
        return
    lock = locked(_lock_of(file))
    if lock is None:
        return
    if file.exists():
        lock.close()
        return
    with suppress(OSError):
        _draft_of(file).unlink(missing_ok=True)
    _remove_parts(file)
    remove(lock, _lock_of(file))


def _abandoned(folder: Path) -> Iterator[Abandoned]:
    for file in folder.glob("*.json"):
        try:
            lock = locked(_lock_of(file))
        except OSError as error:
            log.warning("%s: %s", file, error)
            continue
        if lock is None:
            continue  # its program is alive
        with lock:
            try:
                yield Abandoned(file, file.stat().st_mtime, _entry(file.read_bytes()))
            except FileNotFoundError:
                continue  # it ended regularly, or another window has dealt with it
            except (OSError, ValueError, KeyError, TypeError, RecursionError, ProjectError) as error:
                log.warning("The journal %s cannot be read: %s", file, error)
                with suppress(OSError):
                    file.replace(file.with_suffix(".broken"))


def _entry(text: bytes) -> Entry:
    found: dict[str, Any] = json.loads(text)
    if found["format"] != FORMAT:
        raise ValueError(f"format {found['format']}")
    plan = json.dumps(found["plan"]).encode()
    document = plan_json.decode(plan)
    return Entry(
        str(found["path"]),
        found["unit"],
        str(found["plan_path"]),
        str(found["digest"]),
        plan,
        document.part.file,
        len(document.vents),
        str(found.get("keep_clear", "")),  # earlier versions wrote none
    )


def recovered(journal: Abandoned, part: Solid) -> AppState:
    """The work of a journal, for the part as read from its file now.

    Raises FileReadError if the file has changed since.
    """
    if part.digest != journal.entry.digest:
        raise FileReadError(
            f"{journal.entry.path} has changed since the work on it was interrupted.",
            "Put the file back as it was, or discard the recovery.",
        )
    return journal.state_for(part)


def _lock_of(file: Path) -> Path:
    return file.with_suffix(".lock")


def _draft_of(file: Path) -> Path:
    return file.with_suffix(".new")


def _part_beside(file: Path, digest: str) -> Path:
    return file.with_name(f"{file.stem}+{digest}{SUFFIX}")


def _remove_parts(file: Path) -> None:
    drafts = file.parent.glob(f".{file.stem}+*{SUFFIX}")
    for part in (*file.parent.glob(f"{file.stem}+*{SUFFIX}"), *drafts):
        with suppress(OSError):
            part.unlink()
