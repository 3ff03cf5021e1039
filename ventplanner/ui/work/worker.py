"""One worker process and the thread that talks to it."""

from __future__ import annotations

import multiprocessing
import re
import sys
import threading
import types
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Literal

from ventplanner.errors import Cancelled, VentplannerError, WorkError
from ventplanner.geometry.solid import Solid
from ventplanner.progress import Progress, silent
from ventplanner.ui.work import child
from ventplanner.ui.work.memory import Shared
from ventplanner.ui.work.messages import Done, ExportOrder, Failed, Order, Part, Ready, Room, Stop, Told

State = Literal["starting", "ready", "busy", "gone"]
MakeOrder = Callable[[Part], Order]
PATIENCE_S = 2.0
"""A worker that was told to stop has so long to remove its unfinished files; then it is killed."""

_starting = threading.Lock()
"""Held while a process is started: one at a time."""


class NotBegunError(WorkError):
    """The worker had died before it began: the order can be given to another one."""


class Worker:
    """A process that waits, warm, for orders.

    changed: called from a thread when the state has changed. told: so is this with progress while it gets ready,
    which takes long when it is the first to compile the inner loops.
    """

    def __init__(self, changed: Callable[[], None], told: Progress = silent) -> None:
        self.state: State = "starting"
        self._changed, self._told = changed, told
        self._stopped = self._heard = False
        here, there = multiprocessing.get_context("spawn").Pipe()
        self._pipe: Connection = here
        self._process = multiprocessing.get_context("spawn").Process(
            target=child.main, args=(there,), name="ventplanner worker", daemon=True
        )
        self._there = there
        self._starter = threading.Thread(target=self._start, name="ventplanner warm-up", daemon=True)
        self._starter.start()

    @property
    def pid(self) -> int:
        """The process id, 0 before it is started."""
        return self._process.pid or 0

    def carry_out(self, solid: Solid, make: MakeOrder, progress: Progress) -> object:
        """Carry out an order on this part, in the calling thread; returns its answer.

        For a `DrillOrder` that is the mesh as a dict of arrays. Raises what the work raised, Cancelled after `stop`,
        WorkError if the process died, and of these NotBegunError if it had not even begun: it had died while idle.
        """
        if self._stopped:  # it may still live for a moment, and would answer
            self._set("gone")
            raise Cancelled
        self._heard = False
        self._set("busy")
        order: Order | None = None
        before: set[Path] = set()
        try:
            with Shared.holding({"vertices": solid.vertices, "faces": solid.faces}) as mesh:
                order = make(Part(mesh.handle, solid.bodies, solid.source))
                before = _drafts(order)
                self._pipe.send(order)
                answer = self._converse(progress)
        except (EOFError, OSError) as error:
            self._process.join(PATIENCE_S)
            _remove(_drafts(order) - before if order is not None else set())
            self._set("gone")
            if self._stopped:
                raise Cancelled from error
            raise self._died() from error
        except BaseException:
            self._set("gone" if self._stopped else "ready")
            raise
        self._set("ready")
        return answer

    def stop(self) -> None:
        """Do not wait for the order any more: the process is asked to end, and soon killed. Returns at once."""
        self._stopped = True
        threading.Thread(target=self.close, name="ventplanner end of a worker", daemon=True).start()

    def close(self, patience_s: float = PATIENCE_S) -> None:
        """End the process, and wait for that."""
        self._stopped = True
        with _starting:  # not in the middle of its start
            if self._process.pid is None:
                return
        if self.state == "busy":  # it may have files to remove
            self._process.terminate()
            self._process.join(patience_s)
        if self._process.is_alive():
            self._process.kill()
            self._process.join(1.0)

    def _died(self) -> WorkError:
        if not self._heard:
            return NotBegunError("The worker process had ended before it could begin.", "Try it again.")
        code = self._process.exitcode
        if code is not None and code < 0:
            how = f"The system ended the worker process (signal {-code}); perhaps the memory did not suffice."
        else:
            how = "The worker process ended unexpectedly; perhaps the memory did not suffice."
        return WorkError(how, "Close other programs, or choose a coarser pitch, then try again.")

    def _converse(self, progress: Progress) -> object:
        room: Shared | None = None
        try:
            while True:
                message = self._pipe.recv()
                self._heard = True
                if isinstance(message, Told):
                    self._tell(progress, message)
                elif isinstance(message, Room):
                    room = self._room_for(message)
                elif isinstance(message, Failed):
                    raise message.error
                elif isinstance(message, Done):
                    return message.result if room is None else room.read()
        finally:
            if room is not None:
                room.close()

    def _room_for(self, message: Room) -> Shared:
        """Room for the answer. Without it the worker is told to wait for it no longer, and to be ready again."""
        try:
            room = Shared(message.layout)
        except WorkError:
            self._pipe.send(Stop())
            while not isinstance(self._pipe.recv(), Done | Failed):
                continue
            raise
        self._pipe.send(room.handle)
        return room

    def _tell(self, progress: Progress, message: Told) -> None:
        try:
            progress(message.phase, message.share)
        except VentplannerError:  # nobody waits any more; the answer to come is dropped
            with suppress(OSError):
                self._pipe.send(Stop())

    def _start(self) -> None:
        """Start the process, which takes some time, and wait until it has imported all it needs."""
        with _starting:
            if self._stopped:
                self.state = "gone"
                return
            with _without_main():
                self._process.start()
        self._there.close()  # else the end of the process would not be seen
        try:
            message = self._pipe.recv()
            while isinstance(message, Told):
                self._told(message.phase, message.share)
                message = self._pipe.recv()
            warm = isinstance(message, Ready)
        except (EOFError, OSError):
            warm = False
        self._set("ready" if warm else "gone")
        if warm:
            self._watch()

    def _watch(self) -> None:
        """Notice when the system ends the idle process, so that another one is warm before it is needed."""
        wait([self._process.sentinel])
        self._process.join(PATIENCE_S)
        if self.state == "ready":
            self._set("gone")

    def _set(self, state: State) -> None:
        self.state = state
        self._changed()


@contextmanager
def _without_main() -> Iterator[None]:
    """Start a process that does not run the program's main module again.

    A spawned process does so by default, to find what was defined there: a script that opens the window without the
    usual guard would open a second one. Nothing that the worker needs is defined there.
    """
    main = sys.modules["__main__"]
    sys.modules["__main__"] = types.ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = main


def _drafts(order: Order | None) -> set[Path]:
    """Unfinished files beside the target of an export, which a killed process may leave behind."""
    if not isinstance(order, ExportOrder):
        return set()
    target = Path(order.path).resolve()
    draft = re.compile(re.escape(f".{target.stem[:60]}-") + "[0-9a-f]{8}" + re.escape(target.suffix))
    try:
        return {file for file in target.parent.iterdir() if draft.fullmatch(file.name)}
    except OSError:
        return set()


def _remove(files: set[Path]) -> None:
    for file in files:
        with suppress(OSError):
            file.unlink()
