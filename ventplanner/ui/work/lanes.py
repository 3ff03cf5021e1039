"""A lane: one thing at a time in a thread of this process, and of all that is asked meanwhile only the latest."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal

from ventplanner.errors import Cancelled
from ventplanner.progress import Progress
from ventplanner.ui.work.carried import Carried
from ventplanner.ui.work.hand import Hand

Work = Callable[[Progress], object]
STEP_S = 0.05
"""Progress is told at most so often, so that it never floods the event loop."""


class _Wish:
    """One thing that was asked for, while it waits, runs, and when it has ended."""

    def __init__(self, key: str, work: Work) -> None:
        self.key = key
        self.work = work
        self.stopped = False
        self.handled = False
        self.ended = threading.Event()
        self.result: object = None
        self.error: Exception | None = None


class Lane(QObject):
    """Runs work in a thread; answers arrive in the thread that the lane lives in.

    impatient: work whose answer nobody waits for any more is stopped (at its next progress message) instead of ended.
    keep_late: when such work ended all the same, its answer is told; else it is dropped.
    """

    done = Signal(str, object)
    failed = Signal(str, object)
    progressed = Signal(str, float)
    busy_changed = Signal()
    _ended = Signal(object)
    _told = Signal(object, str, float)

    def __init__(
        self, name: str, parent: QObject | None = None, *, impatient: bool = False, keep_late: bool = False
    ) -> None:
        super().__init__(parent)
        self.name = name
        self._impatient, self._keep_late = impatient, keep_late
        self._running: _Wish | None = None
        self._waiting: _Wish | None = None
        self._closed = False
        self._hand = Hand(f"ventplanner {name}")
        self._ended.connect(self._arrive, Qt.ConnectionType.QueuedConnection)
        self._told.connect(self._tell, Qt.ConnectionType.QueuedConnection)

    @property
    def is_busy(self) -> bool:
        """Whether anything runs or waits that somebody still wants."""
        return self._waiting is not None or (self._running is not None and not self._running.stopped)

    @property
    def key(self) -> str:
        """The key of what is wanted latest; "" if nothing is."""
        if self._waiting is not None:
            return self._waiting.key
        return self._running.key if self._running is not None and not self._running.stopped else ""

    def ask(self, key: str, work: Work) -> None:
        """Do this next. What waited is forgotten; what runs goes on, unless the lane is impatient."""
        if self._closed or self.key == key:
            return
        wish = _Wish(key, work)
        if self._running is None:
            self._start(wish)
        elif self._running.key == key and not self._running.stopped:
            self._waiting = None
        else:
            self._waiting = wish
            if self._impatient:
                self._running.stopped = True
        self.busy_changed.emit()

    def stop(self) -> None:
        """Nobody waits for this lane any more: its answers are dropped."""
        self._waiting = None
        if self._running is not None:
            self._running.stopped = True
        self.busy_changed.emit()

    def finish(self, patience_s: float) -> bool:
        """Wait for what runs and waits, so that its answers are handled on return; False if it took too long."""
        end = time.monotonic() + patience_s
        while self._running is not None:
            wish = self._running
            if not wish.ended.wait(max(0.0, end - time.monotonic())):
                return False
            self._arrive(wish)
        return True

    def close(self) -> None:
        """Stop for good; nothing is told any more."""
        self._closed = True
        self.stop()

    def wait(self, until: float) -> None:
        """Wait for the thread to end, at most until this time (of `time.monotonic`)."""
        if self._running is not None:
            self._running.ended.wait(max(0.0, until - time.monotonic()))

    def _start(self, wish: _Wish) -> None:
        self._running = wish
        self._hand.do(lambda: self._run(wish))

    def _run(self, wish: _Wish) -> None:
        last = [0.0]

        def progress(phase: str, share: float) -> None:
            if wish.stopped:
                raise Cancelled
            now = time.monotonic()
            if now - last[0] >= STEP_S and not self._closed:
                last[0] = now
                self._told.emit(wish, phase, share)

        with Carried() as carried:
            wish.result = wish.work(progress)
        wish.error = carried.error
        wish.ended.set()
        if not self._closed:
            self._ended.emit(wish)

    def _tell(self, wish: _Wish, phase: str, share: float) -> None:
        if wish is self._running and not wish.stopped:
            self.progressed.emit(phase, share)

    def _arrive(self, wish: Any) -> None:
        """An answer, in the thread of the lane. What waits is started before anybody hears of it."""
        if wish.handled:
            return
        wish.handled = True
        self._running, waiting, self._waiting = None, self._waiting, None
        if waiting is not None and not self._closed:
            self._start(waiting)
        self.busy_changed.emit()
        unwanted = wish.stopped and (wish.error is not None or not self._keep_late)
        if self._closed or unwanted or isinstance(wish.error, Cancelled):
            return
        if wish.error is not None:
            self.failed.emit(wish.key, wish.error)
        else:
            self.done.emit(wish.key, wish.result)
