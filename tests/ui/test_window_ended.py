"""The program ended in the middle of each kind of job, by closing its window and by signals: nothing is left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import bodies as b
import pytest
import trimesh

from ventplanner.ui.work.memory import PREFIX

PATIENCE_S = 60.0
JOBS = ("read", "analyse", "cut", "export")
WAYS = {"close": 0, "SIGTERM": 128 + signal.SIGTERM, "SIGINT": 128 + signal.SIGINT}

pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks at processes as Linux has them")

PROGRAM = """
import faulthandler, os, signal, sys
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from ventplanner.ui import main
from ventplanner.ui.dialogs.questions import Question

JOB, WAY, PART, OUT = sys.argv[1:]
NAMES = {"read": "Opening", "analyse": "Analysing", "cut": "Drilling", "export": "Exporting"}
made = main.make_window

def make(app, settings):
    window = made(app, settings)
    session = window.session
    done = set()

    def at_work():
        job = session.job
        if JOB in ("cut", "export"):
            return any(task.name == NAMES[JOB] and not task.stopped for task in session._pool._running)
        return job is not None and job.name == NAMES[JOB] and job.step != ""

    def look():
        if JOB in ("cut", "export") and "asked" not in done and session.proposals and session.is_settled:
            done.add("asked")
            session.accept_all()
            if JOB == "export":
                session.export(OUT)
        if "ended" not in done and at_work():
            done.add("ended")
            print("at work", flush=True)
            if WAY == "close":
                window.close()
            else:
                os.kill(os.getpid(), getattr(signal, WAY))

    def answer():
        for question in QApplication.topLevelWidgets():
            if isinstance(question, Question) and question.isVisible() and "Do not save" in question.buttons:
                question.buttons["Do not save"].click()

    for do in (look, answer):  # a timer does not fire again while its question is asked
        timer = QTimer(window)
        timer.timeout.connect(do)
        timer.start(2)
    session.job_changed.connect(look)  # a quick job may come and go between two looks of the timer
    return window

main.make_window = make
if __name__ == "__main__":
    faulthandler.enable()
    sys.exit(main.run([PART]))
"""


@pytest.fixture(scope="module")
def part(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A hollow ball of some 160 000 triangles: each job takes long enough to be met at work."""
    path = tmp_path_factory.mktemp("parts") / "float.stl"
    trimesh.util.concatenate((b.ball(15.0, fine=6), b.inward(b.ball(12.0, fine=6)))).export(path)
    return path


def of_session(leader: int) -> list[str]:
    """Command lines of the processes that belong to a session."""
    found = []
    for folder in Path("/proc").iterdir():
        try:
            if folder.name.isdigit() and int((folder / "stat").read_text().rpartition(")")[2].split()[3]) == leader:
                found.append((folder / "cmdline").read_text().replace("\0", " ")[:200])
        except (FileNotFoundError, ProcessLookupError):  # it has just ended
            continue
    return found


def files(folder: Path) -> list[str]:
    return sorted(str(file.relative_to(folder)) for file in folder.rglob("*") if file.is_file())


def pairs() -> list[object]:
    """Each job in each way; in every run each job once, and each way."""
    brief = {("read", "SIGINT"), ("analyse", "SIGTERM"), ("cut", "SIGTERM"), ("export", "close")}
    every = ((job, way) for job in JOBS for way in WAYS)
    return [pytest.param(*x, marks=[pytest.mark.long] * (x not in brief)) for x in every]


@pytest.mark.slow
@pytest.mark.parametrize(("job", "way"), pairs())
def test_ended_at_work_the_program_leaves_nothing_behind(job: str, way: str, part: Path, tmp_path: Path) -> None:
    state, temporary, out = tmp_path / "state", tmp_path / "tmp", tmp_path / "out"
    for folder in (state, temporary, out):
        folder.mkdir()
    environment = {**os.environ, "VENTPLANNER_STATE_DIR": str(state), "TMPDIR": str(temporary)}
    command = [sys.executable, "-c", PROGRAM, job, way, str(part), str(out / "never.stl")]
    with (tmp_path / "said").open("w") as log:
        process = subprocess.Popen(
            command, env=environment, stdout=log, stderr=subprocess.STDOUT, start_new_session=True
        )
    try:
        code = process.wait(PATIENCE_S)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGABRT)  # each thread says where it is
        process.wait(PATIENCE_S)
        log = state / "ventplanner.log"
        pytest.fail(f"Not ended after {PATIENCE_S:.0f} s: {(tmp_path / 'said').read_text()}\n{log.read_text()}")
    finally:
        if process.poll() is None:
            process.kill()
            process.wait(PATIENCE_S)
    said = (tmp_path / "said").read_text()
    assert (code, said) == (WAYS[way], "at work\n")
    end = time.monotonic() + 10.0  # what removes shared memory after a kill ends a moment later
    while (running := of_session(process.pid)) and time.monotonic() < end:
        time.sleep(0.05)
    assert running == []
    assert [block.name for block in Path("/dev/shm").glob(f"{PREFIX}{process.pid}-*")] == []
    assert files(temporary) == []
    assert files(out) == []
    kept = [file for file in files(state) if file not in ("settings.json", "ventplanner.log")]
    if way != "close" and job in ("cut", "export"):  # what was accepted can be recovered
        assert [Path(file).suffix for file in kept] == [".json", ".lock"]
    else:
        assert kept == []
    assert "Ended with" in (state / "ventplanner.log").read_text()
