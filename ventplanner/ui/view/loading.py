"""Makes shapes in a thread, keeps the last ones, and hands them over in the thread of the window."""

from __future__ import annotations

from collections import OrderedDict
from concurrent.futures import Future, ThreadPoolExecutor

from PySide6.QtCore import QObject, Signal, Slot

from ventplanner.ui.picture import Picture
from ventplanner.ui.view.shapes import Shapes, make_shapes, shapes_key

_KEPT = 3
"""The part as it came, and the last two ways to drill it, so that undo shows at once."""


class Loader(QObject):
    """`ready` brings the shapes that were last asked for; answers that came too late are only kept."""

    ready = Signal(object)
    _done = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="shapes")
        self._kept: OrderedDict[tuple[object, ...], Shapes] = OrderedDict()
        self._wanted: tuple[object, ...] | None = None
        self._running: tuple[object, ...] | None = None
        self._next: Picture | None = None
        self._is_closed = False
        # Emitted in the thread, received in the window's.
        self._done.connect(self._received)

    @property
    def is_busy(self) -> bool:
        """True while shapes are being made."""
        return self._running is not None

    def forget(self) -> None:
        """Nothing is wanted, and nothing is kept."""
        self._wanted, self._next = None, None
        self._kept.clear()

    def want(self, picture: Picture) -> Shapes | None:
        """The shapes of a picture if they are there; if not they come by `ready`."""
        self._wanted = shapes_key(picture)
        self._next = None
        found = self._kept.get(self._wanted)
        if found is not None:
            self._kept.move_to_end(self._wanted)
            return found
        if self._running is None:
            self._start(picture)
        elif self._running != self._wanted:
            self._next = picture
        return None

    def close(self) -> None:
        """Wait for the thread to end; what it makes is dropped."""
        self._is_closed = True
        self._thread.shutdown(wait=True, cancel_futures=True)

    def _start(self, picture: Picture) -> None:
        self._running = shapes_key(picture)
        self._thread.submit(make_shapes, picture).add_done_callback(self._done.emit)

    @Slot(object)
    def _received(self, future: Future[Shapes]) -> None:
        self._running = None
        if self._is_closed:
            return
        if self._next is not None:
            picture, self._next = self._next, None
            self._start(picture)
        shapes = future.result()
        self._kept[shapes.key] = shapes
        while len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        if shapes.key == self._wanted:
            self.ready.emit(shapes)
