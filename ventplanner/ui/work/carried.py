"""Errors that are handled in another thread or process than the one they happened in."""

from __future__ import annotations

from types import TracebackType


class Carried:
    """`with Carried() as carried:` keeps what its block raises in `error`, for whoever waits for the block to end.

    It is for the outermost block of a thread or of a worker's order, whose answer then is that error. What ends the
    process passes.
    """

    def __init__(self) -> None:
        self.error: Exception | None = None

    def __enter__(self) -> Carried:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> bool:
        if isinstance(error, Exception):
            self.error = error
        return self.error is not None
