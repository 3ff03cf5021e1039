"""Makes shapes in a thread, keeps the last ones, and hands them over in the thread of the window.

Shapes come first, so that the part is seen; what clicks need follows, and may take long on the very first start.
"""

from __future__ import annotations

from collections import OrderedDict
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal, Slot

from ventplanner.ui.picture import Picture
from ventplanner.ui.view.picking import Aim, make_aim
from ventplanner.ui.view.section import Outlines, Section, outlines
from ventplanner.ui.view.shapes import Grouped, Shapes, make_shapes, shapes_key

_KEPT = 3
"""The part as it came, and the last two ways to drill it, so that undo shows at once."""


@dataclass(frozen=True, eq=False)
class Cut:
    """Outlines of sections of some shapes. key: that of the shapes."""

    key: tuple[object, ...]
    sections: tuple[Section, ...]
    cuts: tuple[tuple[Section, Outlines], ...]


def cut_through(mesh: Grouped, sections: tuple[Section, ...]) -> tuple[tuple[Section, Outlines], ...]:
    """The outlines of each section of a mesh."""
    return tuple((s, outlines(mesh.vertices, mesh.faces, mesh.group, s)) for s in sections)


def make_cut(shapes: Shapes, sections: tuple[Section, ...]) -> Cut:
    """The outlines of all triangles. Slow for large parts: call it off the GUI thread."""
    return Cut(shapes.key, sections, cut_through(shapes.full, sections))


class Loader(QObject):
    """`ready` brings the shapes last asked for, `aimed` what rays need of them, `outlined` a `Cut`.

    Late answers are only kept. An error in a thread is raised in the window's thread, like any other.
    """

    ready = Signal(object)
    aimed = Signal(object)
    outlined = Signal(object)
    _done = Signal(object)
    _aim_done = Signal(object)
    _cut_done = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="shapes")
        # A thread of its own, so that shapes need not wait while the inner loops of rays are compiled.
        self._aim_thread = ThreadPoolExecutor(1, thread_name_prefix="aims")
        self._kept: OrderedDict[tuple[object, ...], Shapes] = OrderedDict()
        self._aims: dict[tuple[object, ...], Aim] = {}
        self._aiming = self._cutting = 0
        self._wanted: tuple[object, ...] | None = None
        self._running: tuple[object, ...] | None = None
        self._next: Picture | None = None
        self._is_closed = False
        # Emitted in the thread, received in the window's.
        self._done.connect(self._received)
        self._aim_done.connect(self._received_aim)
        self._cut_done.connect(self._received_cut)

    @property
    def is_busy(self) -> bool:
        """True while anything is being made."""
        return self._running is not None or self._aiming > 0 or self._cutting > 0

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

    def cut(self, shapes: Shapes, sections: tuple[Section, ...]) -> None:
        """Cut all triangles of some shapes; the outlines come by `outlined`."""
        self._cutting += 1
        self._thread.submit(make_cut, shapes, sections).add_done_callback(self._cut_done.emit)

    def close(self) -> None:
        """Wait for the threads to end; what they make is dropped."""
        self._is_closed = True
        for thread in (self._thread, self._aim_thread):
            thread.shutdown(wait=True, cancel_futures=True)

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
        self._aim_thread.submit(make_aim, shapes).add_done_callback(self._aim_done.emit)

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

    @Slot(object)
    def _received_cut(self, future: Future[Cut]) -> None:
        self._cutting -= 1
        if not self._is_closed and not future.cancelled():
            self.outlined.emit(future.result())
