"""How quick the view is with a part of a million triangles: run it on a screen, real or virtual.

    xvfb-run -a -s "-screen 0 1600x1000x24" python tests/benchmarks/bench_view.py [triangles]

Printed are medians and 95th percentiles: how long the event loop leaves an event waiting while the part is turned,
milliseconds of a moving and of a resting frame, of one step of a vent drag from the mouse event to the painted sheet,
of one step of the printed handle, and how long the loop stood still while the surfaces were made.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
from PySide6.QtCore import QEvent, QEventLoop, QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication, QHBoxLayout, QWidget

sys.path.insert(0, str(Path(__file__).parents[1]))

from ui.pictures import block, picture_of_sample

from ventplanner.ui.chart import Chart
from ventplanner.ui.collecting import put_aside
from ventplanner.ui.picture import Mesh, Picture
from ventplanner.ui.view.frames import Frames
from ventplanner.ui.view.sheet import Sheet
from ventplanner.ui.view.view import View


def finer(picture: Picture, triangles: int) -> Picture:
    """The same picture with each triangle split in four until there are enough."""
    vertices, faces = picture.part.vertices, picture.part.faces.astype(np.int64)
    parent = np.arange(len(faces))
    while len(faces) < triangles:
        edges = np.sort(np.concatenate((faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]])), axis=1)
        name, index = np.unique(edges[:, 0] * len(vertices) + edges[:, 1], return_inverse=True)
        middle = 0.5 * (vertices[name // len(vertices)] + vertices[name % len(vertices)])
        ab, bc, ca = (index.reshape(3, -1)[k] + len(vertices) for k in range(3))
        a, b, c = faces.T
        vertices = np.concatenate((vertices, middle))
        faces = np.concatenate([np.column_stack(t) for t in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))])
        parent = np.tile(parent, 4)
    cavities = tuple(
        replace(c, faces=np.flatnonzero(np.isin(parent, c.faces)).astype(np.int32)) for c in picture.cavities
    )
    mesh = Mesh(f"{picture.part.key} in {len(faces)}", vertices, faces.astype(np.int32))
    return replace(picture, part=mesh, cavities=cavities)


class Loop:
    """Measures how long an event that is due waits, every 5 ms."""

    def __init__(self) -> None:
        self.waits: list[float] = []
        self._due = 0.0
        self._timer = QTimer()
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._tick)

    def _tick(self) -> None:
        self.waits.append(1e3 * (time.perf_counter() - self._due))
        self._arm()

    def _arm(self) -> None:
        self._due = time.perf_counter() + 0.005
        self._timer.start(5)

    @contextmanager
    def measured(self, what: str) -> Iterator[None]:
        """Print what waited while this ran."""
        self.waits = []
        self._arm()
        yield
        self._timer.stop()
        said(f"event loop, {what}", self.waits, "ms waiting")


def said(what: str, values: list[float], unit: str = "ms") -> None:
    """One line of the table."""
    if values:
        middle, high, most = np.percentile(values, (50, 95, 100))
        print(f"{what:<46}{middle:8.1f}{high:8.1f}{most:8.1f}  {unit} (median, 95 %, most; n = {len(values)})")


def wait(ms: int) -> None:
    """Let the event loop run."""
    loop = QEventLoop()
    QTimer.singleShot(ms, loop.quit)
    loop.exec()


def until(ready: Callable[[], bool]) -> None:
    """Let the event loop run until something is true."""
    while not ready():
        wait(5)


def mouse(widget: QWidget, kind: QEvent.Type, place: QPointF, button: Qt.MouseButton) -> None:
    """Put a mouse event in the queue, as the screen does."""
    held = Qt.MouseButton.NoButton if kind == QEvent.Type.MouseButtonRelease else button
    event = QMouseEvent(
        kind, place, QPointF(widget.mapToGlobal(place.toPoint())), button, held, Qt.KeyboardModifier.NoModifier
    )
    QApplication.postEvent(widget, event)


class Window(QWidget):
    """A view with its chart, of the size of a usual screen."""

    def __init__(self) -> None:
        super().__init__()
        self.view, self.chart = View(), Chart()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.view, 1)
        row.addWidget(self.chart)
        self.view.mapping_changed.connect(self.chart.set_mapping)
        self.chart.printed_dragged.connect(self.view.set_printed)
        self.sheet: Sheet = self.view.findChild(Sheet)
        self.frames: Frames = self.view.findChild(Frames)
        self.resize(1200, 900)
        self.show()


def main() -> None:
    """Measure everything once."""
    triangles = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    app = QApplication(sys.argv[:1])
    picture = finer(picture_of_sample("lighthouse.stl", accept=0), triangles)
    print(f"{len(picture.part.faces)} triangles, {len(picture.cavities)} cavities, {len(picture.vents)} vents")
    window, loop = Window(), Loop()
    view = window.view
    view.show_picture(block())
    wait(500)
    frames: list[tuple[float, bool]] = []
    window.frames.ready.connect(lambda frame: frames.append((frame.ms, frame.in_full)))
    began = time.perf_counter()
    with loop.measured("surfaces are being made"):
        view.show_picture(picture)
        window.chart.show_picture(picture)
        until(lambda: len(frames) > 1 and not view.is_busy)
    print(f"{'picture given to surfaces ready':<46}{1e3 * (time.perf_counter() - began):8.1f}  ms")
    wait(1200)
    put_aside()  # as the program does when all is loaded
    said("first frame in full", [ms for ms, full in frames if full][:1])
    turn(window, loop, frames)
    drag_vent(window, loop)
    handle(window, loop, frames)
    plane(window, loop, frames)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{'most memory of the process':<46}{peak:8.0f}  MB")
    view.close()
    window.close()
    app.processEvents()


def turn(window: Window, loop: Loop, frames: list[tuple[float, bool]]) -> None:
    """Turn the part by a hundred mouse events, 16 ms apart; then let it rest."""
    frames.clear()
    middle = QPointF(150, 150)
    with loop.measured("turning"):
        mouse(window.sheet, QEvent.Type.MouseButtonPress, middle, Qt.MouseButton.LeftButton)
        for k in range(100):
            place = middle + QPointF(3.0 * k, 40.0 * np.sin(k / 15.0))
            mouse(window.sheet, QEvent.Type.MouseMove, place, Qt.MouseButton.LeftButton)
            wait(16)
    mouse(window.sheet, QEvent.Type.MouseButtonRelease, middle, Qt.MouseButton.LeftButton)
    said("moving frame", [ms for ms, full in frames if not full])
    for _ in range(4):
        window.view.look_from(window.view.eye.orbited(3.0, 0.0))
        wait(900)
    said("resting frame", [ms for ms, full in frames if full])
    window.view.level()
    wait(700)


def drag_vent(window: Window, loop: Loop) -> None:
    """Drag the first vent along the skin; each step ends when the sheet over the frame is painted."""
    view = window.view
    view.fit()
    wait(700)
    vent = view.shown.picture.vents[3]  # type: ignore[union-attr]
    x, y, _ = view.eye.to_screen(np.array(vent.start))
    begin = QPointF(x, y)
    steps: list[float] = []
    rendered: list[float] = []
    with loop.measured("dragging a vent"):
        mouse(window.sheet, QEvent.Type.MouseButtonPress, begin, Qt.MouseButton.LeftButton)
        wait(50)
        note = view.frame_drawn.connect(rendered.append)
        all_began = time.perf_counter()
        for k in range(100):
            began = time.perf_counter()
            place = begin + QPointF(-1.2 * (k + 5), 20 * np.sin(k / 10))
            mouse(window.sheet, QEvent.Type.MouseMove, place, Qt.MouseButton.LeftButton)
            QApplication.processEvents()
            QApplication.processEvents()
            steps.append(1e3 * (time.perf_counter() - began))
        lasted = time.perf_counter() - all_began
        view.frame_drawn.disconnect(note)
        mouse(window.sheet, QEvent.Type.MouseButtonRelease, begin, Qt.MouseButton.LeftButton)
        wait(50)
    said("drag step, mouse event to painted", steps)
    print(f"{'drag updates':<46}{100 / lasted:8.1f}  per second; frames rendered meanwhile: {len(rendered)}")


def handle(window: Window, loop: Loop, frames: list[tuple[float, bool]]) -> None:
    """Drag the printed handle down the part, level and tilted."""
    chart = window.chart
    for name, tilt in (("level", 0.0), ("tilted", 30.0)):
        window.view.look_from(window.view.eye.orbited(0.0, tilt), by_user=False)
        wait(900)
        frames.clear()
        steps: list[float] = []
        grip = QPoint(chart.width() - 30, round(chart.handle_row))
        with loop.measured(f"handle, {name}"):
            mouse(chart, QEvent.Type.MouseButtonPress, QPointF(grip), Qt.MouseButton.LeftButton)
            for k in range(40):
                began = time.perf_counter()
                mouse(chart, QEvent.Type.MouseMove, QPointF(grip + QPoint(0, 12 * k)), Qt.MouseButton.LeftButton)
                QApplication.processEvents()
                steps.append(1e3 * (time.perf_counter() - began))
                wait(4)
            # Held still, the cut is made of all triangles: that must not stop the loop either.
            wait(900)
            mouse(chart, QEvent.Type.MouseButtonRelease, QPointF(grip), Qt.MouseButton.LeftButton)
        said(f"handle step, {name}", steps)
        wait(900)
        said(f"frame in full after it, {name}", [ms for ms, full in frames if full])
        chart.set_printed(None)
        window.view.set_printed(None)


def plane(window: Window, loop: Loop, frames: list[tuple[float, bool]]) -> None:
    """Drag the handle of the free section through the part: square to the view, edge on, and slanting."""
    view = window.view
    for name, side, tilt in (("facing", "viewer", 0.0), ("edge on", "right", 0.0), ("level, tilted", "top", 30.0)):
        view.look("front")
        view.look_from(view.eye.orbited(10.0 if tilt else 0.0, tilt), by_user=False)
        view.cutting.face(side)  # type: ignore[arg-type]  # one of its sides
        wait(1200)
        frames.clear()
        held = view.cutting.handle
        assert held is not None
        grip, along = QPointF(*held.at.tolist()), held.along * 0.3 * view.cutting.reach[1] / held.mm_per_px
        steps: list[float] = []
        with loop.measured(f"section, {name}"):
            mouse(window.sheet, QEvent.Type.MouseButtonPress, grip, Qt.MouseButton.LeftButton)
            for k in range(60):
                began = time.perf_counter()
                share = np.sin(k / 59 * np.pi)
                place = grip + QPointF(*(along * share).tolist())
                mouse(window.sheet, QEvent.Type.MouseMove, place, Qt.MouseButton.LeftButton)
                QApplication.processEvents()
                steps.append(1e3 * (time.perf_counter() - began))
                wait(4)
            # Held still, the cut is made of all triangles.
            wait(900)
            mouse(window.sheet, QEvent.Type.MouseButtonRelease, grip, Qt.MouseButton.LeftButton)
            wait(300)
        said(f"section step, {name}", steps)
        said(f"frame in full after it, {name}", [ms for ms, full in frames if full])
        view.cutting.close()


if __name__ == "__main__":
    main()
