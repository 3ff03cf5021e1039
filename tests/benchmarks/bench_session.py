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


def main() -> int:  # noqa: PLR0915 - a script, read from top to bottom
    """Measure one part."""
    from PySide6.QtCore import QCoreApplication, QEventLoop, QTimer

    from ventplanner.options import AnalysisOptions
    from ventplanner.ui.session import Session

    app = QCoreApplication([])
    begun = time.perf_counter()
    longest = [0.0, begun]
    beat = QTimer()
    beat.setInterval(2)

    def tick() -> None:
        now = time.perf_counter()
        longest[0] = max(longest[0], now - longest[1])
        longest[1] = now

    beat.timeout.connect(tick)
    beat.start()
    session = Session()
    session.failed.connect(lambda error, what: print("failed:", what, error))

    def until(met: Callable[[], bool], what: str = "") -> float:
        loop, start = QEventLoop(), time.perf_counter()
        session.changed.connect(lambda: loop.quit() if met() else None)
        session.job_changed.connect(lambda: loop.quit() if met() else None)
        if not met():
            loop.exec()
        session.changed.disconnect()
        session.job_changed.disconnect()
        took = time.perf_counter() - start
        if what:
            print(f"{what:42} {took:7.2f} s   longest silence of the event loop {1000 * longest[0]:5.0f} ms")
            longest[0] = 0.0
        return took

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "buoy.stl"
        if len(sys.argv) > 1:
            path = Path(sys.argv[1])
        else:
            made_part(path)
        longest[:] = [0.0, time.perf_counter()]
        session.warm_up()
        until(lambda: session.job is None, "kernels loaded")
        session.open(str(path))
        until(lambda: session.picture is not None, "the part alone is shown")
        until(lambda: session.findings is not None and not session.stale, "analysed")
        until(lambda: session.is_settled, "proposed")
        print(len(session.state.solid.faces), "triangles,", session.findings.scene.resolution.pitch_mm, "mm pitch")
        if session.findings.scene.resolution.pitch_mm > 0.2:
            session.set_options(AnalysisOptions(pitch_mm=0.2))
            until(lambda: session.is_settled and not session.stale, "analysed at 0.2 mm")
        session.accept(session.proposals[0].id)
        until(lambda: session.is_settled, "preview after the first accept")
        until(lambda: session.picture.drilled is not None, "cut into the picture (cold worker)")
        knock = QTimer()
        knock.timeout.connect(session.changed)
        knock.start(100)
        until(lambda: session._pool.is_full, "the spare worker is warm")
        knock.stop()
        drag(session, until)
        longest[0] = 0.0
        if session.picture.drilled is None:
            until(lambda: session.picture.drilled is not None, "cut again (warm worker)")
        session.export(str(Path(folder) / "out.stl"))
        until(lambda: session.last_export is not None, "exported and verified")
        print(session.last_export)
        start = time.perf_counter()
        session.shutdown()
        print(f"{'shut down':42} {time.perf_counter() - start:7.2f} s")
    del app
    return 0


def drag(session: object, until: Callable[..., float]) -> None:
    """Steps of a drag around the part, one after the other, each until its preview is there."""
    vent = session.plan.vents[0]
    findings = session.findings
    point = findings.scene.frame.to_build(np.asarray(vent.entry_mm))
    normal = -findings.scene.frame.direction_to_build(np.asarray(vent.axis))
    steps, pictures, refused = [], [], 0
    for k in range(STEPS):
        angle = 2 * np.pi * k / STEPS
        came: list[int] = []

        def now(came: list[int] = came) -> None:
            came.append(1)

        session.preview_changed.connect(now)
        aim = point + np.array([1.5 * np.cos(angle), 1.5 * np.sin(angle), 0.0])
        start = time.perf_counter()
        session.drag_to(vent.id, aim, normal, False)
        until(lambda came=came: bool(came) or bool(session.drag_refusal))
        steps.append(time.perf_counter() - start)
        start = time.perf_counter()
        _ = session.picture, session.left
        pictures.append(time.perf_counter() - start)
        refused += bool(session.drag_refusal)
        session.preview_changed.disconnect(now)
    session.drag_end()
    told("step of a drag: call to new preview", steps)
    told("   picture and sentences made of it", pictures)
    print("refused:", refused)


if __name__ == "__main__":
    sys.exit(main())
