"""Errors that are handled in another thread or process than the one they happened in."""

from __future__ import annotations

import errno
from types import TracebackType

from ventplanner.errors import WorkError


class Carried:
    """`with Carried() as carried:` keeps what its block raises in `error`, for whoever waits for the block to end.

    It is for the outermost block of a thread or of a worker's order, whose answer then is that error. What ends the
    process passes. What the system refuses (memory, disk, files) becomes an error with a way out.
    """

    def __init__(self) -> None:
        self.error: Exception | None = None

    def __enter__(self) -> Carried:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> bool:
        if isinstance(error, Exception):
            self.error = refused(error) if isinstance(error, MemoryError | OSError) else error
        return self.error is not None


def refused(error: MemoryError | OSError) -> WorkError:
    """What the system refused, in words; the error itself is its cause."""
    told = _told(error)
    told.__cause__ = error
    return told


def _told(error: MemoryError | OSError) -> WorkError:
    number = error.errno if isinstance(error, OSError) else errno.ENOMEM
    if number == errno.ENOMEM:
        return WorkError(
            "There is not enough memory for this part.",
            "Close other programs, or choose a coarser pitch, then try again.",
        )
    name = getattr(error, "filename", None)
    at = f" ({name})" if name else ""
    if number in (errno.ENOSPC, errno.EDQUOT):
        return WorkError(f"The disk is full{at}.", "Free some space, then try again.")
    if number in (errno.EMFILE, errno.ENFILE):
        return WorkError("Too many files are open on this machine.", "Close other programs, then try again.")
    if number in (errno.EACCES, errno.EPERM, errno.EROFS):
        return WorkError(f"The system does not permit what the work needs{at}.", "Allow it, then try again.")
    why = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return WorkError(f"The system refused what the work needs: {why}{at}.", "Try again.")
