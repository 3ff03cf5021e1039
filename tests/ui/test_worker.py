"""The worker: it exports as the command line does, ends when asked, and leaves nothing behind however it ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import trimesh
from bodies import box, inward, solid
from hollow_parts import fine, two_bells
from pytestqt.qtbot import QtBot

from ventplanner.errors import Cancelled, DrillError, MeshError, NotVerifiedError, VentplannerError, WorkError
from ventplanner.geometry.solid import Solid
from ventplanner.io.meshes import read, write
from ventplanner.ui.journal import Journal
from ventplanner.ui.session import Session
from ventplanner.ui.work import memory
from ventplanner.ui.work.messages import Failed
from ventplanner.ui.work.worker import Worker

MOST_MS = 60_000
SHARED = Path("/dev/shm")

pytestmark = pytest.mark.slow


def blocks() -> set[str]:
    """Names of all blocks of shared memory that this process made and has not removed."""
    return {file.name for file in SHARED.glob(f"{memory.PREFIX}{os.getpid()}-*")}


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    made = Session(workers=1, journal=Journal(tmp_path / "journal"))
    yield made
    made.shutdown()
    assert blocks() == set()


def opened(session: Session, part: Solid, tmp_path: Path, qtbot: QtBot) -> Session:
    path = tmp_path / "part.stl"
    write(part, path)
    session.open(str(path))
    qtbot.waitUntil(lambda: session.findings is not None and session.is_settled, timeout=MOST_MS)
    session.accept_all()
    qtbot.waitUntil(lambda: session.is_settled, timeout=MOST_MS)
    return session


def large() -> Solid:
    """Two bells with so many triangles that an export can be caught at work."""
    return solid(fine(box((40.0, 20.0, 20.0)), 6), fine(inward(box(12.0, (-9.0, 0.0, -2.0))), 6))


def at_work(session: Session, qtbot: QtBot, step: str = "") -> None:
    qtbot.waitUntil(
        lambda: (
            session.job is not None
            and session.job.name == "Exporting"
            and step in session.job.step
            and session.job.step != ""
        ),
        timeout=MOST_MS,
    )


def files(folder: Path) -> list[str]:
    return sorted(file.name for file in folder.iterdir() if file.is_file())


def test_an_export_is_verified_and_the_drilled_part_is_drawn(session: Session, tmp_path: Path, qtbot: QtBot) -> None:
    opened(session, two_bells(), tmp_path, qtbot)
    qtbot.waitUntil(lambda: session.picture.drilled is not None, timeout=MOST_MS)  # type: ignore[union-attr]
    drilled = session.picture.drilled  # type: ignore[union-attr]
    target = tmp_path / "out.stl"
    with qtbot.waitSignal(session.exported, timeout=MOST_MS) as done:
        session.export(str(target))
    result = done.args[0]
    assert result.verified
    assert result.left == ()
    assert result.vents == len(session.plan.vents)
    assert session.last_export is result
    assert session.is_unsaved  # the plan is in no file yet
    again = read(target)
    assert len(again.faces) == result.triangles == len(drilled.faces)
    assert drilled.vertices[:, 2].min() == pytest.approx(0.0, abs=1e-5)
    mesh = trimesh.Trimesh(again.vertices, again.faces)
    assert mesh.is_watertight
    assert mesh.body_count == 1
    assert files(tmp_path) == ["out.stl", "part.stl"]


def test_an_existing_file_is_not_overwritten_without_leave(session: Session, tmp_path: Path, qtbot: QtBot) -> None:
    opened(session, two_bells(), tmp_path, qtbot)
    with qtbot.waitSignal(session.failed, timeout=MOST_MS) as caught:
        session.export(str(tmp_path / "part.stl"))
    assert "exists already" in str(caught.args[0])


def test_a_cancelled_export_leaves_no_file_and_the_next_one_works(
    session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    opened(session, large(), tmp_path, qtbot)
    failures: list[object] = []
    session.failed.connect(lambda error, _what: failures.append(error))
    session.export(str(tmp_path / "out.stl"))
    at_work(session, qtbot, "Verifying")
    busy = [task.worker for task in session._pool._running]
    session.cancel()
    assert session.job is None or session.job.name != "Exporting"
    qtbot.waitUntil(lambda: all(worker is not None and worker.state == "gone" for worker in busy), timeout=MOST_MS)
    assert files(tmp_path) == ["part.stl"]
    assert failures == []
    with qtbot.waitSignal(session.exported, timeout=MOST_MS):
        session.export(str(tmp_path / "out.stl"))


def test_a_killed_worker_is_told_and_replaced(session: Session, tmp_path: Path, qtbot: QtBot) -> None:
    opened(session, large(), tmp_path, qtbot)
    session.export(str(tmp_path / "out.stl"))
    at_work(session, qtbot, "Verifying")
    victim = next(task.worker for task in session._pool._running if task.name == "Exporting")
    assert victim is not None
    with qtbot.waitSignal(session.failed, timeout=MOST_MS) as caught:
        os.kill(victim.pid, signal.SIGKILL)
    assert isinstance(caught.args[0], WorkError)
    assert "The system ended the worker process (signal 9)" in str(caught.args[0])
    assert "then try again" in caught.args[0].way_out
    assert files(tmp_path) == ["part.stl"]
    with qtbot.waitSignal(session.exported, timeout=MOST_MS):
        session.export(str(tmp_path / "out.stl"))


def test_a_worker_that_is_killed_while_idle_is_replaced_before_it_is_needed(
    session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    opened(session, two_bells(), tmp_path, qtbot)
    qtbot.waitUntil(lambda: session._pool.is_full and session._pool.is_warm and session.job is None, timeout=MOST_MS)
    failures: list[object] = []
    session.failed.connect(lambda error, _what: failures.append(error))
    (before,) = session._pool.pids
    os.kill(before, signal.SIGKILL)
    qtbot.waitUntil(lambda: session._pool.is_warm and before not in session._pool.pids, timeout=MOST_MS)
    with qtbot.waitSignal(session.exported, timeout=MOST_MS):
        session.export(str(tmp_path / "out.stl"))
    assert failures == []


def test_an_order_for_a_worker_that_has_just_been_killed_is_given_to_another_one(
    session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    opened(session, two_bells(), tmp_path, qtbot)
    qtbot.waitUntil(lambda: session._pool.is_full and session._pool.is_warm and session.job is None, timeout=MOST_MS)
    failures: list[object] = []
    session.failed.connect(lambda error, _what: failures.append(error))
    (before,) = session._pool.pids
    os.kill(before, signal.SIGSTOP)  # it takes the order, but does not begin
    with qtbot.waitSignal(session.exported, timeout=MOST_MS):
        session.export(str(tmp_path / "out.stl"))
        qtbot.waitUntil(lambda: bool(session._pool._running), timeout=MOST_MS)
        os.kill(before, signal.SIGKILL)
    assert failures == []


def test_shutting_down_in_the_middle_ends_the_worker(tmp_path: Path, qtbot: QtBot) -> None:
    session = opened(Session(workers=1, journal=Journal(tmp_path / "j")), large(), tmp_path, qtbot)
    session.export(str(tmp_path / "out.stl"))
    at_work(session, qtbot)
    pids = session._pool.pids
    session.shutdown()
    assert all(not Path(f"/proc/{pid}").exists() for pid in pids if pid)
    assert blocks() == set()
    assert files(tmp_path) == ["part.stl"]


def test_a_part_that_cannot_be_drilled_says_why(session: Session, tmp_path: Path, qtbot: QtBot) -> None:
    whole = two_bells()
    open_mesh = Solid(whole.vertices, whole.faces[1:])
    opened(session, open_mesh, tmp_path, qtbot)
    assert session.plan.vents
    caught: list[object] = []
    session.failed.connect(lambda error, _what: caught.append(error))
    session.export(str(tmp_path / "out.stl"))
    qtbot.waitUntil(lambda: session.job is None and bool(caught), timeout=MOST_MS)
    assert all(isinstance(error, MeshError | DrillError | NotVerifiedError) for error in caught)


def run(code: str, **more: object) -> subprocess.Popen[str]:
    """A program of its own, which has no guard around what it does."""
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    return subprocess.Popen(
        [sys.executable, "-c" if "FILE" not in more else str(more.pop("FILE")), textwrap.dedent(code)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
        **more,  # type: ignore[call-overload]
    )


HOLDS_A_BLOCK = """
    import numpy as np, os, signal, sys, time
    from ventplanner.ui.work.memory import Shared
    with Shared.holding({"vertices": np.zeros((100_000, 3))}) as shared:
        print(shared.handle.block, flush=True)
        time.sleep(60)
"""


@pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_shared_memory_goes_even_when_the_window_is_killed(number: int) -> None:
    process = run(HOLDS_A_BLOCK)
    assert process.stdout is not None
    name = process.stdout.readline().strip()
    assert (SHARED / name).exists()
    process.send_signal(number)
    process.communicate(timeout=20)
    end = time.monotonic() + 20
    while (SHARED / name).exists() and time.monotonic() < end:
        time.sleep(0.05)
    assert not (SHARED / name).exists()


def test_a_worker_needs_no_guard_in_the_main_program(tmp_path: Path) -> None:
    script = tmp_path / "unguarded.py"
    script.write_text(
        textwrap.dedent("""
        print("main runs", flush=True)
        import time
        from ventplanner.ui.work.worker import Worker
        worker = Worker(lambda: None)
        end = time.monotonic() + 60
        while worker.state == "starting" and time.monotonic() < end:
            time.sleep(0.02)
        print(worker.state, flush=True)
        worker.close()
        """)
    )
    ran = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, timeout=120, check=True)
    assert ran.stdout.split("\n")[:2] == ["main runs", "ready"]
    assert ran.stderr == ""


def test_a_worker_ends_with_a_window_that_is_killed() -> None:
    process = run(
        """
        import time
        from ventplanner.ui.work.worker import Worker
        worker = Worker(lambda: None)
        while not worker.pid:
            time.sleep(0.01)
        print(worker.pid, flush=True)
        time.sleep(60)
        """
    )
    assert process.stdout is not None
    pid = int(process.stdout.readline())
    process.kill()
    process.communicate(timeout=20)
    end = time.monotonic() + 20
    while Path(f"/proc/{pid}").exists() and time.monotonic() < end:
        time.sleep(0.05)
    assert not Path(f"/proc/{pid}").exists()


def test_a_worker_that_is_stopped_while_idle_can_do_no_more(tmp_path: Path) -> None:
    changed = threading.Event()
    worker = Worker(changed.set)
    assert changed.wait(60)
    assert worker.state == "ready"
    worker.stop()
    with pytest.raises(Cancelled):
        worker.carry_out(two_bells(), lambda part: part, lambda _phase, _share: None)  # type: ignore[arg-type,return-value]
    assert worker.state == "gone"
    worker.close()


def test_arrays_come_back_as_they_were() -> None:
    arrays = {
        "a": np.arange(12.0).reshape(4, 3),
        "none": np.empty((0, 3), dtype=np.int32),
        "b": np.array([[1, 2, 3]], dtype=np.int32),
    }
    with memory.Shared.holding(arrays) as shared:
        assert shared.handle.block in blocks()
        for found in (shared.read(), memory.read(shared.handle)):
            for name, array in arrays.items():
                assert found[name].dtype == array.dtype
                np.testing.assert_array_equal(found[name], array)
        arrays["a"] += 1.0
        memory.write(shared.handle, arrays)
        np.testing.assert_array_equal(shared.read()["a"], arrays["a"])
    shared.close()
    assert blocks() == set()


@pytest.mark.parametrize(
    ("error", "kind", "text"),
    [
        (Cancelled(), Cancelled, "Cancelled"),
        (DrillError("The cut failed.", "Move the vent."), DrillError, "The cut failed. Move the vent."),
        (MeshError("Open edges.", "Mend it.", (1.0, 2.0, 3.0)), MeshError, "Open edges. Mend it."),
        (MemoryError(), WorkError, "not enough memory"),
        (np._core._exceptions._ArrayMemoryError((9,), np.dtype(float)), WorkError, "not enough memory"),  # type: ignore[attr-defined]
        (OSError(12, "Cannot allocate memory"), WorkError, "not enough memory"),
        (
            OSError(28, "No space left", "/harbour/x.stl"),
            WorkError,
            "The disk is full (/harbour/x.stl). Free some space",
        ),
        (OSError(24, "Too many open files"), WorkError, "Too many files are open"),
        (PermissionError(13, "Permission denied", "/x"), WorkError, "does not permit what the work needs (/x)"),
        (OSError(5, "Input/output error"), WorkError, "refused what the work needs: Input/output error. Try again."),
        (ZeroDivisionError("division by zero"), WorkError, "ZeroDivisionError: division by zero"),
    ],
)
def test_errors_keep_what_they_say(error: Exception, kind: type[VentplannerError], text: str) -> None:
    again = Failed.of(error).error
    assert type(again) is kind
    assert text in str(again)
