"""A thread that does one thing after the other, and stays a while for the next."""

from __future__ import annotations

import threading
from collections.abc import Callable
from queue import Empty, SimpleQueue

STAYS_S = 3.0
"""So long it waits for more to do. A thread of its own for each step of a drag costs a third more time: memory that one
thread gave back has to be fetched anew by the next."""


class Hand:
    """Does what it is given in a thread, in the order given. The thread begins when there is work, and goes with the
    program at the latest."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._given: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._lock = threading.Lock()
        self._is_there = False

    def do(self, work: Callable[[], None]) -> None:
        """Do this, which must not raise, after what was given before."""
        with self._lock:
            self._given.put(work)
            if not self._is_there:
                self._is_there = True
                threading.Thread(target=self._run, name=self._name, daemon=True).start()

    def _run(self) -> None:
        while True:
            try:
                work = self._given.get(timeout=STAYS_S)
            except Empty:
                with self._lock:
                    if self._given.empty():
                        self._is_there = False
                        return
            else:
                work()
                del work  # else what it holds would live as long as the thread has nothing to do
