"""Results by the key of what they were computed from: the latest ones are kept, up to a cap on memory."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from threading import Lock
from typing import Any

import numpy as np

from ventplanner.machine import memory_bytes

SHARE, LEAST_BYTES, MOST_BYTES = 1 / 8, 250_000_000, 4_000_000_000
"""An eighth of the machine's memory is for results, within these bounds: a small machine keeps room for the analysis
itself (some 0.35 kB for a column), and on a large one more would hardly ever be asked for."""


def usual_cap(memory: int | None = None) -> int:
    """Bytes that results may take on a machine with so much memory (default: this one)."""
    memory = memory_bytes() if memory is None else memory
    return int(min(max(SHARE * memory, LEAST_BYTES), MOST_BYTES))


class Results:
    """A mapping from keys to results that forgets the least recently used ones beyond `cap` bytes (`usual_cap`).

    The newest result is always kept, however large. Safe to use from several threads.
    """

    def __init__(self, cap: int | None = None) -> None:
        self._cap = usual_cap() if cap is None else cap
        self._kept: OrderedDict[str, tuple[object, int]] = OrderedDict()
        self._held = 0
        self._lock = Lock()

    def __contains__(self, key: str) -> bool:
        return key in self._kept

    def __len__(self) -> int:
        return len(self._kept)

    @property
    def cap(self) -> int:
        """Bytes that may be kept, the newest result aside."""
        return self._cap

    @property
    def held(self) -> int:
        """Estimated bytes of all results that are kept."""
        return self._held

    def get(self, key: str) -> Any:
        """The result of this key, now the most recently used one; None if there is none."""
        with self._lock:
            found = self._kept.get(key)
            if found is None:
                return None
            self._kept.move_to_end(key)
            return found[0]

    def put(self, key: str, result: object) -> None:
        """Keep a result; None is no result."""
        size = bytes_of(result)
        with self._lock:
            _, before = self._kept.pop(key, (None, 0))
            self._kept[key] = (result, size)
            self._held += size - before
            while self._held > self._cap and len(self._kept) > 1:
                _, (_, gone) = self._kept.popitem(last=False)
                self._held -= gone

    def drop(self, key: str) -> None:
        """Forget a result, if it is kept."""
        with self._lock:
            _, size = self._kept.pop(key, (None, 0))
            self._held -= size

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._kept.clear()
            self._held = 0


def bytes_of(value: object) -> int:
    """Bytes of all arrays that a value holds, in dataclasses and usual containers; each memory block counts once.

    Arrays that several results share count in each of them: the estimate errs on the safe side.
    """
    counted: set[int] = set()
    waiting, total = [value], 1000
    while waiting:
        each = waiting.pop()
        if each is None or isinstance(each, str | int | float | bool) or id(each) in counted:
            continue
        counted.add(id(each))
        if isinstance(each, np.ndarray):
            base = each if each.base is None else each.base
            if base is each or id(base) not in counted:
                counted.add(id(base))
                total += each.nbytes
        elif isinstance(each, Mapping):
            waiting += each.values()
        elif isinstance(each, list | tuple | set | frozenset):
            waiting += each
        elif is_dataclass(each) and not isinstance(each, type):
            # What a cached property has computed so far counts as well.
            held = getattr(each, "__dict__", None)
            waiting += held.values() if held is not None else [getattr(each, f.name) for f in fields(each)]
    return total
