"""Frames of the picture, rendered in a thread of their own: however long one takes, the window goes on answering.

The graphics library draws off the screen and gives back pixels; a frame goes on the screen by a plain painter, so what
is drawn over it never makes it render again. Only the last wish counts, and one frame is in the making at a time.
"""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
import pyvista as pv
from PySide6.QtCore import QObject, QTimer, Signal, Slot
from PySide6.QtGui import QImage
from vtkmodules.vtkRenderingCore import vtkWindowToImageFilter

from ventplanner.ui.view.shown import Shown
from ventplanner.ui.view.stage import Stage

T = TypeVar("T")
Command = Callable[[Stage], None]

REST_MS = 200
"""After this long without a change the picture is drawn in full."""

FAST_MS = 25.0
"""Where a full frame takes less than this, moving pictures are drawn in full."""

SLOW_MS = 45.0
"""Where a moving frame takes longer than this, the next ones have half the pixels each way."""


@dataclass(frozen=True, eq=False)
class Frame:
    """An image, and what was wished of it. ms: how long it took. in_full: all triangles, all pixels, smooth edges."""

    image: QImage
    shown: Shown
    ms: float
    in_full: bool


@dataclass(frozen=True, eq=False)
class _Wish:
    """size: pixels of the screen. share: of the pixels each way that are rendered."""

    shown: Shown
    size: tuple[int, int]
    ratio: float
    share: float
    in_full: bool


class Frames(QObject):
    """`ready` brings each frame in the window's thread, where errors of the other thread are raised, too."""

    ready = Signal(object)
    _done = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        # Cocoa lets only the main thread make windows, also those that are never seen.
        self._thread: Executor = _Here() if sys.platform == "darwin" else ThreadPoolExecutor(1, "frames")
        self._painter = _Painter()
        self._commands: deque[Command] = deque()
        self._sent: deque[Command] = deque()
        self._has_failed = False
        self._shown = Shown()
        self._size, self._ratio = (0, 0), 1.0
        self._is_wanted = self._is_running = self._is_closed = False
        self._is_moving = False
        self._can_be_coarse = False
        self._full_ms, self._share = 0.0, 1.0
        self._done.connect(self._received)
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self._rests)
        # Whatever changes in one go is one frame, and no half of it is ever seen.
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(0)
        self._soon.timeout.connect(self._go_on)

    @property
    def is_resting(self) -> bool:
        """True when the last wish has been fulfilled, in full."""
        return not (self._is_moving or self._is_running or self._is_wanted)

    def tell(self, command: Command) -> None:
        """Change the stage before the next frame is drawn; it runs in the other thread."""
        self._commands.append(command)

    def set_can_be_coarse(self, can: bool) -> None:
        """Whether the surfaces have stand-ins. What is known about the time of a frame is forgotten."""
        self._can_be_coarse = can
        self._full_ms, self._share = 0.0, 1.0

    def resize(self, width: int, height: int, ratio: float) -> None:
        """Logical pixels of the picture, and how many pixels of the screen each has."""
        self._size, self._ratio = (max(1, round(width * ratio)), max(1, round(height * ratio))), ratio

    def draw(self, shown: Shown) -> None:
        """Draw this, in the detail of the moment."""
        self._shown = shown
        self._is_wanted = True
        self._soon.start()

    def draw_moving(self, shown: Shown) -> None:
        """Draw this quickly, and in full when nothing has moved for a while."""
        if self._full_ms > FAST_MS:
            self._is_moving = True
            self._rest.start()
        self.draw(shown)

    def keep_moving(self) -> None:
        """Something moves over the picture: what waits for a rest before it is drawn in full waits on."""
        if self._rest.isActive():
            self._rest.start()

    def close(self) -> None:
        """End the thread, and give back what the graphics library holds."""
        if self._is_closed:
            return
        self._is_closed = True
        self._rest.stop()
        self._soon.stop()
        self._thread.submit(self._painter.close)
        self._thread.shutdown(wait=True)

    def _rests(self) -> None:
        self._is_moving = False
        self.draw(self._shown)

    def _go_on(self) -> None:
        if self._is_running or not self._is_wanted or self._is_closed or 0 in self._size:
            return
        self._sent, self._commands = self._commands, deque()
        in_full = not self._is_moving
        share = 1.0 if in_full else self._share
        wish = _Wish(self._shown, self._size, self._ratio, share, in_full)
        self._is_running, self._is_wanted = True, False
        job = self._thread.submit(self._painter.paint, self._sent, wish, self._can_be_coarse)
        job.add_done_callback(self._done.emit)

    @Slot(object)
    def _received(self, job: Future[Frame]) -> None:
        self._is_running = False
        if self._is_closed:
            return
        error = job.exception()
        if error is None:
            self._has_failed = False
            self._show(job.result())
            return
        # What was to be done after the step that failed is still to be done, and the frame to be drawn: once more only
        # if nothing is left to be done, or a library that is broken would be tried for ever.
        self._is_wanted = self._is_wanted or bool(self._sent) or not self._has_failed
        self._has_failed = True
        self._commands.extendleft(reversed(self._sent))
        self._go_on()
        raise error

    def _show(self, frame: Frame) -> None:
        if frame.in_full:
            self._full_ms = frame.ms
        elif frame.ms > SLOW_MS:
            self._share = 0.5
        self.ready.emit(frame)
        self._go_on()


class _Painter:
    """Lives in the thread: makes the render window there, uses it there, and ends it there."""

    def __init__(self) -> None:
        self._stage: Stage | None = None
        self._reader: Any = None

    def paint(self, commands: deque[Command], wish: _Wish, can_be_coarse: bool) -> Frame:
        """Carry out the commands, then render. After an error the commands not yet begun are still in the queue."""
        began = time.perf_counter()
        stage = self._ready()
        while commands:
            commands.popleft()(stage)
        stage.set_detail(coarse=can_be_coarse and not wish.in_full, fine=wish.in_full)
        stage.look(wish.shown.eye)
        width, height = (max(1, round(n * wish.share)) for n in wish.size)
        stage.window.SetSize(width, height)
        self._reader.Modified()
        # An update of a filter lets go of the interpreter lock while it renders and reads.
        self._reader.Update()
        image = _image(self._reader.GetOutput(), width, height)
        image.setDevicePixelRatio(wish.ratio * wish.share)
        return Frame(image, wish.shown, 1e3 * (time.perf_counter() - began), wish.in_full)

    def close(self) -> None:
        """End the render window in the thread that made it."""
        if self._stage is not None:
            self._stage.close()
        self._stage = self._reader = None

    def _ready(self) -> Stage:
        if self._stage is None:
            self._stage = Stage()
            self._reader = vtkWindowToImageFilter()
            self._reader.SetInput(self._stage.window)
            self._reader.ReadFrontBufferOff()
            self._reader.SetInputBufferTypeToRGBA()
        return self._stage


def _image(data: Any, width: int, height: int) -> QImage:
    """Pixels of the graphics library, which count from the bottom, as an image that a painter draws without change."""
    rows = np.asarray(pv.wrap(data).active_scalars).reshape(height, width, 4)
    turned = np.ascontiguousarray(rows[::-1])
    image = QImage(turned.data, width, height, 4 * width, QImage.Format.Format_RGBX8888)
    return image.convertToFormat(QImage.Format.Format_RGB32)


FAILURES = (ArithmeticError, AttributeError, LookupError, MemoryError, OSError, RuntimeError, TypeError, ValueError)


class _Here(Executor):
    """Does everything at once in the thread that asks."""

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        """Do it now; an error is kept in the future, as other executors do."""
        done: Future[T] = Future()
        try:
            done.set_result(fn(*args, **kwargs))
        except FAILURES as error:
            done.set_exception(error)
        return done
