"""Makes shapes in a thread, keeps the last ones, and hands them over in the thread of the window.

Shapes come first, so that the part is seen; what clicks need follows, and may take long on the very first start.
"""

from __future__ import annotations

from collections import OrderedDict
from concurrent.futures import Future, ThreadPoolExecutor

from PySide6.QtCore import QObject, Signal, Slot

from ventplanner.ui.picture import Picture
from ventplanner.ui.view.picking import Aim, make_aim
from ventplanner.ui.view.shapes import Shapes, make_shapes, shapes_key

_KEPT = 3
"""The part as it came, and the last two ways to drill it, so that undo shows at once."""


class Loader(QObject):
    """`ready` brings the shapes last asked for, `aimed` what rays need of them; late answers are only kept."""

    ready = Signal(object)
    aimed = Signal(object)
    _done = Signal(object)
    _aim_done = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="shapes")
        self._kept: OrderedDict[tuple[object, ...], Shapes] = OrderedDict()
        self._aims: dict[tuple[object, ...], Aim] = {}
        self._aiming = 0
        self._wanted: tuple[object, ...] | None = None
        self._running: tuple[object, ...] | None = None
        self._next: Picture | None = None
        self._is_closed = False
        # Emitted in the thread, received in the window's.
        self._done.connect(self._received)
        self._aim_done.connect(self._received_aim)

    @property
    def is_busy(self) -> bool:
        """True while shapes are being made."""
        return self._running is not None or self._aiming > 0

    def forget(self) -> None:
        """Nothing is wanted, and nothing is kept."""
        self._wanted, self._next = None, None
        self._kept.clear()
        self._aims.clear()

    def aim_of(self, shapes: Shapes | None) -> Aim | None:
        """What rays need of these shapes, if it is there; if not it comes by `aimed`."""
        return self._aims.get(shapes.key) if shapes is not None else None

    def want(self, picture: Picture) -> Shapes | None:
        """The shapes of a picture if they are there; if not they come by `ready`."""
        self._wanted = shapes_key(picture)
        self._next = None
        found = self._kept.get(self._wanted)
        if found is not None:
            self._kept.move_to_end(self._wanted)
            if found.key not in self._aims:
                self._make_aim(found)
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
        if self._is_closed or future.cancelled():
            return
        if self._next is not None:
            picture, self._next = self._next, None
            self._start(picture)
        shapes = future.result()
        self._kept[shapes.key] = shapes
        while len(self._kept) > _KEPT:
            self._aims.pop(self._kept.popitem(last=False)[0], None)
        if shapes.key == self._wanted:
            self._make_aim(shapes)
            self.ready.emit(shapes)

    def _make_aim(self, shapes: Shapes) -> None:
        self._aiming += 1
        self._thread.submit(make_aim, shapes).add_done_callback(self._aim_done.emit)

    @Slot(object)
    def _received_aim(self, future: Future[Aim]) -> None:
        self._aiming -= 1
        if self._is_closed or future.cancelled():
            return
        aim = future.result()
        if aim.key in self._kept:
            self._aims[aim.key] = aim
        if aim.key == self._wanted:
            self.aimed.emit(aim)
