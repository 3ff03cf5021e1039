"""Locks among programs, on a file of their own: the system gives them back however a program ends."""

from __future__ import annotations

import errno
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

HELD = {errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES, errno.EDEADLK}
STEP_S = 0.005


class NoLocksError(OSError):
    """The file system knows no locks (some network folders do not)."""


def locked(path: Path) -> IO[bytes] | None:
    """The lock, held as long as the file is open; None if another program holds it.

    What is locked is the file that is at `path` now: whoever tidies up may have removed the one that was opened.
    Raises OSError where the file cannot be made, and NoLocksError where nothing can be locked.
    """
    while True:
        handle = path.open("ab")
        try:
            if not _try(handle.fileno()):
                handle.close()
                return None
            if _is_at(handle.fileno(), path):
                return handle
        except BaseException:
            handle.close()
            raise
        handle.close()


@contextmanager
def holding(path: Path, patience_s: float) -> Iterator[bool]:
    """Hold the lock for a block; yields False if it was not to be had within the patience, or there are no locks."""
    handle = None
    end = time.monotonic() + patience_s
    with suppress(OSError):
        while (handle := locked(path)) is None and time.monotonic() < end:
            time.sleep(STEP_S)
    if handle is None:
        yield False
        return
    try:
        yield True
    finally:
        remove(handle, path)


def remove(handle: IO[bytes], path: Path) -> None:
    """Give a lock back, and remove its file: while it is held, so that nobody holds what no longer has a name."""
    with suppress(OSError):
        path.unlink(missing_ok=True)
    handle.close()
    if sys.platform == "win32":  # there an open file cannot be removed
        with suppress(OSError):
            path.unlink(missing_ok=True)


def _try(descriptor: int) -> bool:
    try:
        if sys.platform == "win32":
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in HELD:
            return False
        raise NoLocksError(error.errno, os.strerror(error.errno or 0)) from error
    return True


def _is_at(descriptor: int, path: Path) -> bool:
    """Whether the open file is the one that bears the name now."""
    try:
        there = path.stat()
    except FileNotFoundError:
        return False
    return os.path.samestat(os.fstat(descriptor), there)
