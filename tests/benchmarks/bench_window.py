"""The real window from end to end: when it is seen, when a sample can be worked on, and how a drag of a vent feels.

    xvfb-run -a -s "-screen 0 1600x1000x24" python tests/benchmarks/bench_window.py [FILE]

Without FILE the drag is done on a hollow part of 1.4 million triangles made here. A start is a process of its own,
timed from before it exists: until its window has been painted, and until the sample stands there with its proposals and
a first picture of the whole part. A step of a drag goes from the mouse event to the chart and the view having been
painted with the preview that belongs to it; now and then the hand rests, the button held. Beside it: how long the event
loop left an event waiting meanwhile.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PySide6.QtCore import QEvent, QEventLoop, QObject, QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QMouseEvent

STARTS, STEPS, PATIENCE_S = 3, 120, 180.0
REST_EACH, REST_S = 25, 0.7
os.environ.setdefault("VENTPLANNER_STATE_DIR", tempfile.mkdtemp())

_CHILD = """
import sys, time
began = float(sys.argv[1])
from PySide6.QtCore import QTimer
from ventplanner.ui import main
from ventplanner.ui.window import MainWindow

seen = []
painted = MainWindow.paintEvent
def paint(self, event):
    painted(self, event)
    if not seen:
        seen.append(time.time() - began)
MainWindow.paintEvent = paint

made = main.make_window
def make(app, settings):
    window = made(app, settings)
    def look():
        session, view = window.session, window.stage.view
        if session.findings is None or not session.is_settled or view is None or view.is_busy:
            return
        watch.stop()
        print("%.2f %.2f" % (seen[0], time.time() - began), flush=True)
        window.leave_at_once()
        app.quit()
    watch = QTimer(window)
    watch.setInterval(20)
    watch.timeout.connect(look)
    watch.start()
    return window
main.make_window = make
sys.exit(main.run([sys.argv[2]]))
"""


def told(what: str, seconds: list[float]) -> None:
    """Median and the 95th percentile in ms."""
    ms = sorted(1000.0 * s for s in seconds)
    print(
        f"{what:52} median {statistics.median(ms):8.1f} ms   p95 {ms[int(0.95 * (len(ms) - 1))]:8.1f} ms   {len(ms)}x"
    )


def starts() -> None:
    """Window seen, and sample usable, for fresh processes with a warm compile cache."""
    from ventplanner import resources

    sample = str(resources.sample("lighthouse"))
    seen, usable = [], []
    for number in range(STARTS + 1):
        command = [sys.executable, "-c", _CHILD, str(time.time()), sample]
        out = subprocess.run(command, capture_output=True, text=True, check=True, timeout=PATIENCE_S).stdout
        if number:  # the first one may have compiled
            first, second = map(float, out.split()[-2:])
            seen.append(first)
            usable.append(second)
    told("window seen", seen)
    told("sample usable (89 934 triangles, four cavities)", usable)


class Hand:
    """A window with a part in it, and a hand on the mouse."""

    def __init__(self, path: Path) -> None:
        from ventplanner.ui import main
        from ventplanner.ui.settings import Settings

        self.app = main.application()
        self.window = main.make_window(self.app, Settings())
        self.window.resize(1400, 900)
        self.window.show()
        main.bring_view(self.window)
        self.session, self.view = self.window.session, self.window.stage.view
        assert self.view is not None
        self.window.files.open(str(path))
        self.wait(lambda: self.session.findings is not None and self.at_rest())
        self.session.accept(self.session.proposals[-1].id)
        self.wait(lambda: self.at_rest() and self.session.job is None)
        self.start = self.spot(f"vent {self.session.plan.vents[0].id}")
        self.target = self.view.childAt(self.start) or self.view

    def spot(self, word: str) -> QPoint:
        """A pixel of the view where a click means this."""
        for y in range(40, self.view.height() - 20, 3):
            for x in range(60, self.view.width() - 20, 3):
                if self.view.word_at(QPoint(x, y).toPointF()) == word:
                    return QPoint(x, y)
        raise LookupError(f"{word} is not in the view")

    def at_rest(self) -> bool:
        return bool(self.session.is_settled and not self.view.is_busy)

    def wait(self, until: Callable[[], bool], patience: float = PATIENCE_S) -> None:
        end = time.monotonic() + patience
        while not until():
            if time.monotonic() > end:
                raise TimeoutError("the window did not get there")
            self.app.processEvents()
            time.sleep(0.0005)

    def send(self, kind: str, dx: float = 0.0, dy: float = 0.0) -> None:
        """A mouse event with the left button, so far from the vent."""
        local = self.target.mapFrom(self.view, self.start + QPoint(round(dx), round(dy)))
        button = Qt.MouseButton.NoButton if kind == "MouseMove" else Qt.MouseButton.LeftButton
        held = Qt.MouseButton.NoButton if kind == "MouseButtonRelease" else Qt.MouseButton.LeftButton
        place, above = QPointF(local), QPointF(self.target.mapToGlobal(local))
        none = Qt.KeyboardModifier.NoModifier
        self.app.postEvent(self.target, QMouseEvent(QEvent.Type[kind], place, above, button, held, none))


class Steps:
    """Times steps of a drag: from the mouse event until chart and view are on the screen with the preview of it."""

    def __init__(self, hand: Hand) -> None:
        self.hand, self.seconds, self.refused, self.beside = hand, [], 0, 0
        self._asked = self._came = False
        self._ended = 0.0
        self._loop = QEventLoop()
        self._too_long = QTimer(self._loop, singleShot=True, interval=1000)
        self._too_long.timeout.connect(self._loop.quit)
        hand.view.dragged.connect(self._ask)
        hand.session.preview_changed.connect(self._note)
        hand.session.stepped.connect(lambda: self._loop.quit() if hand.session.drag_refusal else None)

        class Watch(QObject):
            def eventFilter(watch, _watched: QObject, event: QEvent) -> bool:  # noqa: N802, N805 - Qt's name
                if event.type() == QEvent.Type.Paint and self._came:
                    QTimer.singleShot(0, self._end)  # when this, and all that is painted with it, is on the screen
                return False

        self._watch = Watch()
        hand.window.stage.chart.installEventFilter(self._watch)

    def _ask(self) -> None:
        self._asked = True

    def _note(self) -> None:
        self._came = self._asked

    def _look(self) -> None:
        """Where the pointer is beside the skin nothing is asked for."""
        if not self._asked:
            self._loop.quit()

    def _end(self) -> None:
        self._ended = time.perf_counter()
        self._loop.quit()

    def step(self, dx: float, dy: float) -> None:
        """One move of the mouse."""
        self._asked = self._came = False
        self._ended = 0.0
        began = time.perf_counter()
        self.hand.send("MouseMove", dx, dy)
        QTimer.singleShot(0, self._look)
        self._too_long.start()
        self._loop.exec()
        self._too_long.stop()
        if self._ended:
            self.seconds.append(self._ended - began)
        elif self._asked:
            self.refused += 1
        else:
            self.beside += 1

    def rest(self) -> None:
        """The hand rests, the button held."""
        QTimer.singleShot(round(1000 * REST_S), self._loop.quit)
        self._loop.exec()


def drag(path: Path) -> None:
    """A vent dragged along the skin by real mouse events in the real window."""
    hand = Hand(path)
    session = hand.session
    print(f"{len(session.findings.part.faces)} triangles, pitch {session.findings.scene.resolution.pitch_mm:g} mm")
    waits, last = [], [time.perf_counter()]

    def beat() -> None:
        now = time.perf_counter()
        waits.append(max(0.0, now - last[0] - 0.002))
        last[0] = now

    steps, timer = Steps(hand), QTimer(interval=2)
    timer.timeout.connect(beat)
    hand.send("MouseButtonPress")
    hand.app.processEvents()
    middle = hand.view.eye.to_screen(np.array([0.0, 0.0, 0.5 * session.findings.scene.height]))
    inwards = np.array([float(middle[0]) - hand.start.x(), float(middle[1]) - hand.start.y()])
    inwards /= max(float(np.linalg.norm(inwards)), 1.0)
    across = np.array([-inwards[1], inwards[0]])
    timer.start()
    for k in range(STEPS):
        way = (20.0 + 2.0 * (k % 50)) * inwards + 15.0 * np.sin(0.2 * k) * across
        steps.step(*way.tolist())
        if k % REST_EACH == REST_EACH - 1:
            steps.rest()
    timer.stop()
    hand.send("MouseButtonRelease")
    hand.wait(hand.at_rest)
    told("step of a drag, mouse event to chart painted", steps.seconds)
    print(f"steps at which the vent does not fit: {steps.refused}, beside the skin: {steps.beside}")
    told("event loop while dragging, an event waits", waits)
    hand.window.leave_at_once()
    hand.app.processEvents()


if __name__ == "__main__":
    starts()
    if len(sys.argv) > 1:
        drag(Path(sys.argv[1]))
    else:
        sys.path.insert(0, str(Path(__file__).parent))
        from bench_session import made_part

        with tempfile.TemporaryDirectory() as folder:
            made_part(Path(folder) / "ellipsoid.stl")
            drag(Path(folder) / "ellipsoid.stl")
