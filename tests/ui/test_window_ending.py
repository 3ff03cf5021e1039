"""How the program starts and ends, as a process of its own: signals, a kill, and what is left behind."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ventplanner import resources
from ventplanner.ui.work.memory import PREFIX

PATIENCE_S = 60.0

PROGRAM = """
import sys
from PySide6.QtCore import QTimer
from ventplanner.ui import main

made = main.make_window

def make(app, settings):
    window = made(app, settings)
    session = window.session
    words = {"ready": False}

    def look():
        for text in window.welcome.notices.texts:
            print("notice", text, flush=True)
            window.welcome.notices.clear()
        if not words["ready"] and session.proposals and session.job is None:
            words["ready"] = True
            (DO)
            print("ready", flush=True)

    timer = QTimer(window)
    timer.timeout.connect(look)
    timer.start(20)
    return window

class Start(main.Start):  # begins what follows once the window is shown: a timer might look too late
    def begin(self, paths):
        heavy = {"numba", "scipy", "vtkmodules", "pyvista", "trimesh", "manifold3d"} & set(sys.modules)
        print("shown" if self._window.isVisible() else "hidden", sorted(heavy), flush=True)
        super().begin(paths)

main.make_window = make
main.Start = Start
if __name__ == "__main__":
    sys.exit(main.run(sys.argv[1:]))
"""


class Program:
    """The program in a process."""

    def __init__(self, state: Path, *arguments: str, do: str = "None") -> None:
        environment = {**os.environ, "VENTPLANNER_STATE_DIR": str(state), "PYTHONUNBUFFERED": "1"}
        self._state = state
        command = [sys.executable, "-c", PROGRAM.replace("(DO)", do), *arguments]
        with (state / "said").open("w") as log:
            self.process = subprocess.Popen(command, env=environment, stdout=log, stderr=subprocess.STDOUT, text=True)

    @property
    def said(self) -> str:
        return (self._state / "said").read_text()

    def wait_for(self, text: str) -> None:
        end = time.monotonic() + PATIENCE_S
        while text not in self.said:
            assert self.process.poll() is None, self.said
            assert time.monotonic() < end, self.said
            time.sleep(0.05)

    def end(self, number: int) -> int:
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_S)


Start = Callable[..., Program]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Starts programs that share one folder for their state, and ends those that are still there."""
    running: list[Program] = []

    def begin(*arguments: object, do: str = "None") -> Program:
        running.append(Program(tmp_path, *map(str, arguments), do=do))
        return running[-1]

    yield begin
    for program in running:
        if program.process.poll() is None:
            program.process.kill()
            program.process.wait(PATIENCE_S)


def shared_memory(pid: int) -> list[str]:
    """Blocks of shared memory that a process made and that are still there."""
    return [path.name for path in Path("/dev/shm").glob(f"{PREFIX}{pid}-*")]


def test_nothing_heavy_is_loaded_before_the_window_is_shown(start: Start) -> None:
    program = start()
    program.wait_for("shown")
    assert "shown []" in program.said
    program.end(signal.SIGTERM)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_the_program_cleanly_even_during_a_job(start: Start, number: signal.Signals) -> None:
    program = start(resources.sample("rope-cleat"), do="session.accept_all(); session.export('never.stl')")
    program.wait_for("ready")
    assert program.end(number) == 128 + number
    assert "Traceback" not in program.said
    assert shared_memory(program.process.pid) == []
    assert not Path("never.stl").exists()


def test_work_is_recovered_after_a_kill(start: Start, tmp_path: Path) -> None:
    program = start(resources.sample("rope-cleat"), do="session.accept(session.proposals[0].id)")
    program.wait_for("ready")
    program.end(signal.SIGKILL)
    journals = list((tmp_path / "journal").glob("*.json"))
    assert len(journals) == 1
    assert len(json.loads(journals[0].read_text())["plan"]["vents"]) == 1
    again = start()
    again.wait_for("notice")
    assert "The work on rope-cleat.stl was interrupted (1 vent accepted). Go on with it?" in again.said
    again.end(signal.SIGTERM)


def test_settings_that_cannot_be_read_do_not_stop_the_start(start: Start, tmp_path: Path) -> None:
    (tmp_path / "settings.json").write_text('{"window": 12, "theme": ["no"], "recent": {"a": 1}')
    program = start()
    program.wait_for("notice The settings could not be read")
    program.end(signal.SIGTERM)


def test_settings_of_the_wrong_kind_do_not_stop_the_start(start: Start, tmp_path: Path) -> None:
    (tmp_path / "settings.json").write_text('{"window": 12, "panels": "()", "theme": ["no"], "hanging": "maybe"}')
    program = start()
    program.wait_for("shown")
    assert program.end(signal.SIGTERM) == 128 + signal.SIGTERM
