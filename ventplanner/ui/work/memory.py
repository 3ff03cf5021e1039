"""Arrays in shared memory: made and removed by the window alone, copied out at once by the worker.

The window owns every block. `Shared` removes it when its `with` block ends, however it ends; a block that is left over
when the window is killed is removed by the resource tracker, a small process of Python's that outlives both.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping, Sized
from dataclasses import dataclass
from multiprocessing import resource_tracker, shared_memory
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import WorkError

Arrays = Mapping[str, NDArray[Any]]
ALIGN = 64
PREFIX = "vent"
"""Names of blocks begin with this and the id of the window's process."""


@dataclass(frozen=True)
class Handle:
    """Where arrays lie in a block: its name, and name, type, shape and offset of each array."""

    block: str
    layout: tuple[tuple[str, str, tuple[int, ...], int], ...]


Layout = tuple[tuple[str, str, tuple[int, ...], int], ...]


def layout_of(arrays: Arrays) -> Layout:
    """Where these arrays would lie in a block."""
    layout, at = [], 0
    for name, array in arrays.items():
        layout.append((name, array.dtype.str, tuple(array.shape), at))
        at += -(-array.nbytes // ALIGN) * ALIGN
    return tuple(layout)


def _reserve(memory: shared_memory.SharedMemory) -> None:
    """Take the pages now: OSError if there is no room for them, instead of the process being killed when it writes."""
    handle = getattr(memory, "_fd", -1)
    if handle >= 0 and hasattr(os, "posix_fallocate"):
        os.posix_fallocate(handle, 0, memory.size)


def _no_room(size: int, error: OSError) -> WorkError:
    text = f"There is no room for {size / 1e6:.0f} MB in shared memory ({error.strerror})."
    return WorkError(text, "Make room in /dev/shm, or give it more, then try again.")


def _name() -> str:
    """A name that tells whose block it is; short, as some systems want it."""
    return f"{PREFIX}{os.getpid()}-{secrets.token_hex(4)}"


class Shared:
    """A block of shared memory with arrays of this layout, removed at the end of its `with` block."""

    def __init__(self, layout: Layout) -> None:
        size = max((at + _nbytes(dtype, shape) for _, dtype, shape, at in layout), default=0)
        try:
            self._memory = shared_memory.SharedMemory(_name(), create=True, size=max(size, 1))
        except OSError as error:
            raise _no_room(size, error) from error
        try:
            _reserve(self._memory)
        except OSError as error:
            self.close()
            raise _no_room(size, error) from error
        self.handle = Handle(self._memory.name, layout)

    @classmethod
    def holding(cls, arrays: Arrays) -> Shared:
        """A block with a copy of these arrays."""
        shared = cls(layout_of(arrays))
        try:
            _fill(shared._memory, shared.handle, arrays)
        except BaseException:
            shared.close()
            raise
        return shared

    def read(self) -> dict[str, NDArray[Any]]:
        """Copies of the arrays as they are in the block now."""
        return _copies(self._memory, self.handle)

    def close(self) -> None:
        """Remove the block; a second time does nothing."""
        self._memory.close()
        try:
            self._memory.unlink()
        except FileNotFoundError:
            return

    def __enter__(self) -> Shared:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


def read(handle: Handle) -> dict[str, NDArray[Any]]:
    """In the worker: copies of the arrays that the window put into a block."""
    memory = _attached(handle)
    try:
        return _copies(memory, handle)
    finally:
        memory.close()


def write(handle: Handle, arrays: Arrays) -> None:
    """In the worker: put arrays of the block's layout into it."""
    memory = _attached(handle)
    try:
        _fill(memory, handle, arrays)
    finally:
        memory.close()


def _attached(handle: Handle) -> shared_memory.SharedMemory:
    # Opening a block enters it with the resource tracker too (cpython issue 82300), which only its owner may do.
    register = resource_tracker.register
    resource_tracker.register = _not_ours
    try:
        return shared_memory.SharedMemory(handle.block)
    finally:
        resource_tracker.register = register


def _not_ours(name: Sized, rtype: str) -> None: ...


def _fill(memory: shared_memory.SharedMemory, handle: Handle, arrays: Arrays) -> None:
    for name, dtype, shape, at in handle.layout:
        if not _nbytes(dtype, shape):
            continue
        place: NDArray[Any] = np.ndarray(shape, dtype, memory.buf, at)
        place[...] = arrays[name]
        del place


def _copies(memory: shared_memory.SharedMemory, handle: Handle) -> dict[str, NDArray[Any]]:
    found = {}
    for name, dtype, shape, at in handle.layout:
        place: NDArray[Any] = (
            np.ndarray(shape, dtype, memory.buf, at) if _nbytes(dtype, shape) else np.empty(shape, dtype)
        )
        found[name] = place.copy()
        del place
    return found


def _nbytes(dtype: str, shape: tuple[int, ...]) -> int:
    return int(np.dtype(dtype).itemsize * np.prod(shape, dtype=np.int64))
