"""Killed at random moments, the program loses no edit that it has finished."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest
from hollow_parts import two_bells

from ventplanner.io.meshes import read, write
from ventplanner.ui.journal import abandoned, recovered

RUNS, MOST_S = 5, 40.0

WORKING = """
    import sys
    from PySide6.QtCore import QCoreApplication, QTimer
    from ventplanner.ui.session import Session

    app = QCoreApplication([])
    session = Session(workers=0)
    done = [0]

    def go_on():
        if session.findings is None or not session.is_settled:
            return
        if not done[0]:
            session.accept_all()
        for _ in range(3):
            done[0] += 1
            session.set_depth(session.plan.vents[0].id, done[0] / 1000)
            print(done[0], flush=True)

    timer = QTimer()
    timer.timeout.connect(go_on)
    timer.start(1)
    session.open(sys.argv[1])
    app.exec()
"""


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="kills as POSIX does")
def test_killed_at_any_moment_no_finished_edit_is_lost(tmp_path: Path) -> None:
    part = tmp_path / "part.stl"
    write(two_bells(), part)
    solid, chance, end = read(part), random.Random(11), time.monotonic() + MOST_S
    runs = 0
    while runs < RUNS and time.monotonic() < end:
        runs += 1
        state = tmp_path / f"state {runs}"
        process = subprocess.Popen(
            [sys.executable, "-c", textwrap.dedent(WORKING), str(part)],
            env={**os.environ, "VENTPLANNER_STATE_DIR": str(state), "QT_QPA_PLATFORM": "offscreen"},
            stdout=subprocess.PIPE,
            text=True,
        )
        assert process.stdout is not None
        assert process.stdout.readline() == "1\n"
        time.sleep(chance.uniform(0.0, 0.4))
        process.kill()
        said, _ = process.communicate(timeout=20)
        finished = int((["1", *said.split("\n")[:-1]])[-1])
        left = state / "journal"
        (found,) = abandoned(left)
        again = recovered(found, solid)
        # Each edit is written before it is told; the kill may have come between the two.
        assert round(1000 * again.plan.vents[0].beyond_mm) in (finished, finished + 1)
        found.discard()
        assert list(left.iterdir()) == []
    assert runs >= 2


def test_a_draft_that_was_being_written_does_not_hide_the_journal_before_it(tmp_path: Path) -> None:
    from plan_values import vent, wedge

    from ventplanner.app import edits
    from ventplanner.app.state import AppState
    from ventplanner.ui.journal import Journal

    journal = Journal(tmp_path)
    assert journal.write(edits.accept(AppState(wedge()), vent("1")).state, "whelk.stl", None, "")
    whole = journal.path.read_bytes()
    journal.close(keep=True)
    for cut in range(0, len(whole), max(1, len(whole) // 17)):
        journal.path.with_suffix(".new").write_bytes(whole[:cut])
        (found,) = abandoned(tmp_path)
        assert found.entry.vents == 1
        assert json.loads(journal.path.read_bytes()) == json.loads(whole)
    found.discard()
    assert list(tmp_path.iterdir()) == []
