"""Two workers: one to carry out what is asked, one warm in reserve, so that nobody ever waits for a start."""

from __future__ import annotations

import threading
from dataclasses import dataclass

from PySide6.QtCore import QObject, Qt, Signal

from ventplanner.errors import Cancelled
from ventplanner.geometry.solid import Solid
from ventplanner.ui.work.carried import Carried
from ventplanner.ui.work.worker import MakeOrder, NotBegunError, Worker

WORKERS = 2
MOST_FAILED_STARTS = 3


@dataclass(eq=False)
class _Task:
    """Something to be carried out by a worker: what it is, and what came of it."""

    name: str
    key: str
    solid: Solid
    make: MakeOrder
    worker: Worker | None = None
    stopped: bool = False
    given_anew: int = 0
    result: object = None
    error: Exception | None = None
    thread: threading.Thread | None = None


class Pool(QObject):
    """Carries out orders in worker processes, the earliest first. Signals arrive in the thread the pool lives in."""

    done = Signal(str, str, object)
    """Name, key, answer."""
    failed = Signal(str, str, object)
    cancelled = Signal(str, str)
    """Name and key of an order that was cancelled, when its worker has come to rest."""
    progressed = Signal(str, str, float)
    readying = Signal(str, float)
    """What the first worker does until it is ready, and the share of that."""
    busy_changed = Signal()
    _changed = Signal()
    _ended = Signal(object)
    _told = Signal(object, str, float)

    def __init__(self, parent: QObject | None = None, workers: int = WORKERS) -> None:
        super().__init__(parent)
        self._most = workers
        self._workers: list[Worker] = []
        self._waiting: list[_Task] = []
        self._running: list[_Task] = []
        self._wanted = 0
        self._failed_starts = 0
        self._closed = False
        self.prepared = threading.Event()
        for signal, slot in ((self._changed, self._go_on), (self._ended, self._arrive), (self._told, self._tell)):
            signal.connect(slot, Qt.ConnectionType.QueuedConnection)

    @property
    def pids(self) -> tuple[int, ...]:
        """Process ids of the workers, warm or not."""
        return tuple(worker.pid for worker in self._workers)

    @property
    def is_full(self) -> bool:
        """Whether all workers are there and none is still getting ready."""
        return len(self._workers) >= self._most and all(worker.state != "starting" for worker in self._workers)

    @property
    def is_warm(self) -> bool:
        """Whether a worker could begin at once."""
        return any(worker.state == "ready" for worker in self._workers)

    def prepare(self) -> bool:
        """Start the first worker now; `prepared` is set when it is ready or has failed. False if none is to be kept.

        On a first start it compiles the inner loops, which this process then finds compiled: compiling here would hold
        the interpreter lock again and again.
        """
        self._wanted = max(self._wanted, min(1, self._most))
        self._go_on()
        return self._wanted > 0

    def warm(self) -> None:
        """Have all workers, from now on. One is started after the other, so that the first is soon ready."""
        self._wanted = self._most
        self._go_on()

    def is_busy(self, name: str) -> bool:
        """Whether something of this name waits or runs."""
        return any(task.name == name and not task.stopped for task in (*self._waiting, *self._running))

    def submit(self, name: str, key: str, solid: Solid, make: MakeOrder) -> None:
        """Carry out the order that `make` makes for this part, when its turn comes."""
        if self._closed:
            return
        self._waiting.append(_Task(name, key, solid, make))
        self._wanted = max(1, self._most)
        self._go_on()
        self.busy_changed.emit()

    def cancel(self, name: str) -> None:
        """Drop what waits under this name, and end the worker that carries it out."""
        dropped = [task for task in self._waiting if task.name == name]
        self._waiting = [task for task in self._waiting if task.name != name]
        for task in self._running:
            if task.name == name and not task.stopped:
                task.stopped = True
                if task.worker is not None:
                    task.worker.stop()
        self.busy_changed.emit()
        for task in dropped:
            self.cancelled.emit(task.name, task.key)

    def close(self) -> None:
        """End all workers, and wait for that."""
        self._closed = True
        self._waiting.clear()
        for task in self._running:
            task.stopped = True
        enders = [threading.Thread(target=worker.close) for worker in self._workers]
        for ender in enders:
            ender.start()
        for ender in enders:
            ender.join()
        for task in self._running:
            if task.thread is not None:
                task.thread.join(1.0)  # it removes shared memory and unfinished files
        self._workers.clear()

    def _go_on(self) -> None:
        """Start the workers that are missing, and give a ready one what waits."""
        if self._closed:
            return
        gone = [worker for worker in self._workers if worker.state == "gone"]
        self._workers = [worker for worker in self._workers if worker.state != "gone"]
        self._failed_starts = 0 if self.is_warm else self._failed_starts + len(gone)
        alive = [w for w in self._workers if not any(t.worker is w and t.stopped for t in self._running)]
        if len(alive) < self._wanted and not any(worker.state == "starting" for worker in self._workers):
            if self._failed_starts <= MOST_FAILED_STARTS:
                self._workers.append(Worker(self._say_changed, self._say_readying))
            else:
                self._give_up()
        for worker in self._workers:
            if worker.state == "ready" and self._waiting and not any(t.worker is worker for t in self._running):
                self._begin(self._waiting.pop(0), worker)

    def _say_changed(self) -> None:
        self.prepared.set()
        if not self._closed:
            self._changed.emit()

    def _say_readying(self, phase: str, share: float) -> None:
        if not self._closed and not self.prepared.is_set():
            self.readying.emit(phase, share)

    def _give_up(self) -> None:
        from ventplanner.errors import WorkError

        waiting, self._waiting = self._waiting, []
        self._wanted = 0
        self._failed_starts = 0
        for task in waiting:
            error = WorkError("The worker process does not start.", "Look into the log, then try it again.")
            self.failed.emit(task.name, task.key, error)
        self.busy_changed.emit()

    def _begin(self, task: _Task, worker: Worker) -> None:
        task.worker = worker
        self._running.append(task)
        task.thread = threading.Thread(
            target=self._run, args=(task, worker), name=f"ventplanner {task.name}", daemon=True
        )
        task.thread.start()

    def _run(self, task: _Task, worker: Worker) -> None:
        def progress(phase: str, share: float) -> None:
            if task.stopped:
                raise Cancelled
            if not self._closed:
                self._told.emit(task, phase, share)

        with Carried() as carried:
            task.result = worker.carry_out(task.solid, task.make, progress)
        task.error = carried.error
        if not self._closed:
            self._ended.emit(task)

    def _tell(self, task: _Task, phase: str, share: float) -> None:
        if not task.stopped:
            self.progressed.emit(task.name, phase, share)

    def _arrive(self, task: _Task) -> None:
        self._running = [other for other in self._running if other is not task]
        if isinstance(task.error, NotBegunError) and task.given_anew < WORKERS and not (self._closed or task.stopped):
            # The system has ended a worker while it was idle: no more than another one is needed.
            again = _Task(task.name, task.key, task.solid, task.make, given_anew=task.given_anew + 1)
            self._waiting.insert(0, again)
            self._go_on()
            return
        self._go_on()
        self.busy_changed.emit()
        if self._closed:
            return
        if task.stopped or isinstance(task.error, Cancelled):
            self.cancelled.emit(task.name, task.key)
            return
        if task.error is not None:
            self.failed.emit(task.name, task.key, task.error)
        else:
            self.done.emit(task.name, task.key, task.result)
