"""What the window's session costs at a million triangles, without painting: opening, steps of a drag, cuts, export.

    QT_QPA_PLATFORM=offscreen python tests/benchmarks/bench_session.py [FILE]

Without FILE a hollow part of 1.4 million triangles is made (a bumpy ellipsoid in two skins). A step of a drag is
timed from the call that a mouse event makes to the signal after which the chart may be painted.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import trimesh

STEPS = 120
os.environ.setdefault("VENTPLANNER_STATE_DIR", tempfile.mkdtemp())


def made_part(path: Path) -> None:
    """A bumpy hollow ellipsoid, 50 x 45 x 100 mm, as binary STL."""
    outer = trimesh.creation.icosphere(subdivisions=8)
    bumps = 1.0 + 0.01 * np.sin(20 * outer.vertices[:, :1]) * np.sin(17 * outer.vertices[:, 2:])
    inner = trimesh.creation.icosphere(subdivisions=6)
    skins = [
        trimesh.Trimesh(outer.vertices * bumps * (25.0, 22.5, 50.0), outer.faces, process=False),
        trimesh.Trimesh(inner.vertices * (22.0, 19.5, 47.0), inner.faces[:, ::-1], process=False),
    ]
    trimesh.util.concatenate(skins).export(path)


def told(what: str, seconds: list[float]) -> None:
    """Median and the 95th percentile in ms."""
    ms = sorted(1000 * s for s in seconds)
    print(
        f"{what:42} median {statistics.median(ms):7.1f} ms   p95 {ms[int(0.95 * (len(ms) - 1))]:7.1f} ms   {len(ms)}x"
    )


class Run:
    """A session with an event loop around it, and the longest time that the loop did not turn."""

    def __init__(self) -> None:
        from PySide6.QtCore import QCoreApplication, QTimer

        from ventplanner.ui.session import Session

        self.app = QCoreApplication([])
        self.silence, self._last = 0.0, time.perf_counter()
        self.beat = QTimer()
        self.beat.setInterval(2)
        self.beat.timeout.connect(self._tick)
        self.beat.start()
        self.session = Session()
        self.session.failed.connect(lambda error, what: print("failed:", what, error))

    def _tick(self) -> None:
        now = time.perf_counter()
        self.silence, self._last = max(self.silence, now - self._last), now

    def until(self, met: Callable[[], bool], what: str = "") -> None:
        """Let the loop turn until something is so, and say how long that took."""
        from PySide6.QtCore import QEventLoop, QTimer

        loop, start, knock = QEventLoop(), time.perf_counter(), QTimer()
        self.silence, self._last = 0.0, start
        knock.setInterval(2)
        knock.timeout.connect(lambda: loop.quit() if met() else None)
        knock.start()
        if not met():
            loop.exec()
        if what:
            took = time.perf_counter() - start
            print(f"{what:42} {took:7.2f} s   longest silence of the event loop {1000 * self.silence:5.0f} ms")

    def settle(self, what: str) -> None:
        """Until all that follows from the user's wishes is known."""
        s = self.session
        self.until(lambda: s.findings is not None and not s.stale and s.is_settled, what)


def main() -> int:
    """Measure one part."""
    from ventplanner.options import AnalysisOptions

    run = Run()
    session = run.session
    with tempfile.TemporaryDirectory() as folder:
        path = Path(sys.argv[1] if len(sys.argv) > 1 else Path(folder) / "buoy.stl")
        if len(sys.argv) < 2:
            made_part(path)
        session.warm_up()
        run.until(lambda: session.job is None, "kernels loaded")
        session.open(str(path))
        run.until(lambda: session.picture is not None, "the part alone is shown")
        run.until(lambda: session.findings is not None and not session.stale, "analysed")
        run.settle("proposed")
        if session.findings.scene.resolution.pitch_mm > 0.2:
            session.set_options(AnalysisOptions(pitch_mm=0.2))
            run.settle("analysed and proposed at 0.2 mm")
        print(f"{len(session.state.solid.faces)} triangles, pitch {session.findings.scene.resolution.pitch_mm} mm")
        session.accept(session.proposals[0].id)
        run.settle("preview after the first accept")
        run.until(lambda: session.picture.drilled is not None, "cut into the picture (cold worker)")
        run.until(lambda: session._pool.is_full, "the spare worker is warm")
        drag(run)
        run.until(lambda: session.picture.drilled is not None, "cut again (warm worker)")
        session.export(str(Path(folder) / "out.stl"))
        run.until(lambda: session.last_export is not None, "exported and verified")
        print(session.last_export)
        start = time.perf_counter()
        session.shutdown()
        print(f"{'shut down':42} {time.perf_counter() - start:7.2f} s")
    return 0


def drag(run: Run) -> None:
    """Steps of a drag around a vent's place, one after the other, each until its preview is there."""
    from PySide6.QtCore import QEventLoop

    session, loop = run.session, QEventLoop()
    vent, frame = session.plan.vents[0], session.findings.scene.frame
    point = frame.to_build(np.asarray(vent.entry_mm))
    normal = -frame.direction_to_build(np.asarray(vent.axis))
    session.preview_changed.connect(loop.quit)
    session.plan_changed.connect(lambda: loop.quit() if session.drag_refusal else None)
    steps, pictures, refused = [], [], 0
    for k in range(STEPS):
        angle = 2 * np.pi * k / STEPS
        start = time.perf_counter()
        session.drag_to(vent.id, point + 1.5 * np.array([np.cos(angle), np.sin(angle), 0.0]), normal)
        loop.exec()
        steps.append(time.perf_counter() - start)
        start = time.perf_counter()
        _ = session.picture, session.left
        pictures.append(time.perf_counter() - start)
        refused += bool(session.drag_refusal)
    session.drag_end()
    told("step of a drag: call to new preview", steps)
    told("   picture and sentences made of it", pictures)
    print("refused:", refused)


if __name__ == "__main__":
    sys.exit(main())
