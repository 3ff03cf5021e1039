"""Every long job can be cancelled, says what that means, and can be begun again."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from hollow_parts import ON_SIDE
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, opened_, part_, session_, settle  # noqa: F401  the names that end in _ are fixtures

from ventplanner.app.state import AppState
from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.session import Session
from ventplanner.ui.work import analyst as analyst_module
from ventplanner.ui.work.analyst import Analysed, Interrupted, analyse_state


class Gated:
    """An analysis that answers when it is let go; `asked` counts. deaf: it does not listen while it works."""

    def __init__(self) -> None:
        self.open = threading.Event()
        self.open.set()
        self.asked = 0
        self.deaf = False
        self.ended = threading.Event()

    def __call__(self, state: AppState, progress: Progress) -> Analysed:
        self.asked += 1
        try:
            while not self.open.wait(0.005):
                if not self.deaf:
                    progress("Casting columns", 0.2)
            return analyse_state(state, lambda _phase, _share: None)
        finally:
            self.ended.set()


@pytest.fixture
def gate() -> Gated:
    return Gated()


@pytest.fixture
def gated(tmp_path: Path, gate: Gated) -> Iterator[Session]:
    made = Session(workers=0, analyse=gate, journal=Journal(tmp_path / "journal"))
    yield made
    gate.open.set()
    made.shutdown()


def test_the_first_analysis_is_cancelled_and_begun_again(gated: Session, gate: Gated, part: str, qtbot: QtBot) -> None:
    said = counted(gated.said)
    gate.open.clear()
    gated.open(part)
    qtbot.waitUntil(lambda: gated.job is not None and gated.job.name == "Analysing", timeout=MOST_MS)
    assert gated.job is not None
    assert gated.job.cancellable
    gated.cancel()
    assert gated.job is None
    assert gated.interrupted == Interrupted("analysis", cancelled=True)
    assert said == [("The analysis was cancelled.",)]
    assert gated.findings is None
    assert gated.verdict is None
    assert gated.picture is not None  # the part alone
    assert gated.picture.halted
    assert gate.ended.wait(5.0)
    qtbot.wait(50)
    assert gated.job is None  # nothing begins by itself

    gate.open.set()
    gated.analyse_again()
    settle(qtbot, gated)
    assert gated.interrupted is None
    assert gated.verdict is not None
    assert not gated.picture.halted
    assert len(gated.proposals) == 4


def test_an_answer_that_comes_after_the_cancel_is_not_shown_but_is_there_when_it_is_asked_for(
    gated: Session, gate: Gated, part: str, qtbot: QtBot
) -> None:
    gate.open.clear()
    gate.deaf = True
    gated.open(part)
    qtbot.waitUntil(lambda: gated.job is not None and gated.job.name == "Analysing", timeout=MOST_MS)
    gated.cancel()
    gate.open.set()
    assert gate.ended.wait(10.0)
    qtbot.wait(100)
    assert gated.findings is None
    assert gated.interrupted is not None
    gated.analyse_again()
    settle(qtbot, gated)
    assert gate.asked == 1


def test_after_a_cancelled_turn_what_was_known_stays_shown_and_undo_goes_back_to_it(
    gated: Session, gate: Gated, part: str, qtbot: QtBot
) -> None:
    gated.open(part)
    settle(qtbot, gated)
    before = gated.findings
    gate.open.clear()
    gated.set_pose(ON_SIDE)
    qtbot.waitUntil(lambda: gated.job is not None and gated.job.name == "Analysing", timeout=MOST_MS)
    gated.cancel()
    assert gated.stale
    assert gated.findings is before
    assert gated.picture is not None
    assert (gated.picture.stale, gated.picture.halted) == (True, True)
    # An edit that asks for no other analysis does not begin it again.
    gated.set_rules(gated.state.rules)  # type: ignore[union-attr]
    assert gated.job is None
    gated.undo()
    qtbot.waitUntil(lambda: gated.is_settled, timeout=MOST_MS)
    assert gated.interrupted is None
    assert gated.findings is before
    assert not gated.stale
    gated.redo()
    assert gated.interrupted == Interrupted("analysis", cancelled=True)
    gate.open.set()
    gated.analyse_again()
    settle(qtbot, gated)
    assert gated.findings is not None
    assert gated.findings.pose == ON_SIDE


def test_typing_a_figure_while_nothing_is_known_is_refused_with_the_way_out(
    gated: Session, gate: Gated, part: str, qtbot: QtBot
) -> None:
    gated.open(part)
    settle(qtbot, gated)
    gated.accept("1")
    settle(qtbot, gated)
    gate.open.clear()
    gated.set_pose(ON_SIDE)
    gated.cancel()
    failures = counted(gated.failed)
    gated.set_diameter("1", 1.5)
    assert "is not analysed as it hangs now" in str(failures[0][0])
    assert "nalyse it again" in str(failures[0][0])


def test_looking_for_vents_is_cancelled_and_not_called_in_vain(
    session: Session, part: str, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    hold = threading.Event()
    real = analyst_module._propose

    def slow(findings: object, state: AppState, progress: Progress) -> object:
        while not hold.wait(0.005):
            progress("Proposing vents", 0.3)
        return real(findings, state, progress)  # type: ignore[arg-type]

    monkeypatch.setattr(analyst_module, "_propose", slow)
    said = counted(session.said)
    session.open(part)
    qtbot.waitUntil(lambda: session.job is not None and session.job.name == "Proposing vents", timeout=MOST_MS)
    assert session.left[0].text == "A is sealed from 2.0 mm; vents are being looked for."
    session.cancel()
    assert session.job is None
    assert session.interrupted == Interrupted("proposals", cancelled=True)
    assert session.left[0].text == "A is sealed from 2.0 mm; vents have not been looked for."
    assert "Looking for vents was cancelled" in str(said[-1][0])
    assert session.verdict is not None
    hold.set()
    session.analyse_again()
    settle(qtbot, session)
    assert len(session.proposals) == 4


def test_reading_a_file_is_cancelled_and_what_was_open_stays(
    tmp_path: Path, part: str, qtbot: QtBot, opened: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = threading.Event()

    def slow(path: str, unit: str | None, progress: Progress) -> object:
        while not held.wait(0.005):
            progress("Reading the file", 0.5)
        raise AssertionError(path, unit)

    monkeypatch.setattr(opened, "_read", slow)
    said = counted(opened.said)
    opened.open(str(tmp_path / "another.stl"))
    qtbot.waitUntil(lambda: opened.job is not None and opened.job.name == "Opening", timeout=MOST_MS)
    opened.cancel()
    assert opened.job is None
    assert opened.path == part
    assert said[-1] == ("Reading the file was cancelled. What was open stays as it is.",)


@pytest.mark.slow
@pytest.mark.parametrize("is_there", [False, True])
def test_a_cancelled_export_says_so_and_that_the_file_is_as_it_was(
    opened: Session, tmp_path: Path, qtbot: QtBot, is_there: bool
) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    qtbot.waitUntil(lambda: opened.job is None, timeout=MOST_MS)  # the picture is cut
    target = tmp_path / "vented.stl"
    if is_there:
        target.write_bytes(b"what was here before")
    said = counted(opened.said)
    opened.export(str(target), overwrite=True)
    qtbot.waitUntil(lambda: opened.job is not None and opened.job.name == "Exporting", timeout=MOST_MS)
    opened.cancel()
    qtbot.waitUntil(lambda: len(said) == 1, timeout=MOST_MS)
    if is_there:
        assert said == [("The export was cancelled: vented.stl is as it was before.",)]
        assert target.read_bytes() == b"what was here before"
    else:
        assert said == [("The export was cancelled: vented.stl was not written.",)]
        assert not target.exists()
