"""Any order of edits, undos and late answers: the session shows what the user wishes, and nothing else."""

from __future__ import annotations

import tempfile
import threading
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from hollow_parts import ON_SIDE, two_bells
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from PySide6.QtCore import QCoreApplication, QEventLoop, QTimer

from ventplanner.app.state import AppState, analysis_key, open_proposals
from ventplanner.geometry.pose import Pose
from ventplanner.options import VentRules
from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.session import Session
from ventplanner.ui.work.analyst import Analysed, analyse_state
from ventplanner.ui.work.files import Opened

POSES = (Pose(), ON_SIDE, Pose(on="plate"))
MOST_S = 30.0


@cache
def known(key: str, state: AppState) -> Analysed:
    """Each analysis is made once for all runs of the machine."""
    assert key == analysis_key(state)
    return analyse_state(state, lambda _phase, _share: None)


class Gated:
    """An analysis that answers only when it is let go."""

    def __init__(self) -> None:
        self.open = threading.Event()

    def __call__(self, state: AppState, _progress: Progress) -> Analysed:
        assert self.open.wait(MOST_S)
        return known(analysis_key(state), AppState(state.solid, state.pose, state.options))


def wait_until(met: Callable[[], bool]) -> None:
    end = time.monotonic() + MOST_S
    loop, timer = QEventLoop(), QTimer(interval=1)
    timer.timeout.connect(lambda: loop.quit() if met() or time.monotonic() > end else None)
    timer.start()
    loop.exec()
    timer.stop()
    assert met()


class Steps(RuleBasedStateMachine):
    """A user at work on the two bells, beside a list of what the plan must be at each place of the history."""

    @initialize()
    def open_part(self) -> None:
        self.app = QCoreApplication.instance() or QCoreApplication([])
        self.folder = tempfile.TemporaryDirectory()
        self.gate = Gated()
        self.gate.open.set()
        self.session = Session(
            workers=0,
            analyse=self.gate,
            read=lambda path, unit, progress: Opened(AppState(two_bells()), path, unit),
            journal=Journal(Path(self.folder.name) / "journal"),
        )
        self.failures: list[object] = []
        self.session.failed.connect(lambda error, _what: self.failures.append(error))
        self.session.open("two bells.stl")
        self.settle()
        self.line = [self.wish()]
        self.at = 0

    def teardown(self) -> None:
        if hasattr(self, "session"):
            self.gate.open.set()
            self.session.shutdown()
            self.folder.cleanup()

    def wish(self) -> tuple[object, ...]:
        """What the user decided, without what was only looked up."""
        state = self.session.state
        assert state is not None
        vents = tuple((v.id, v.entry_mm, v.diameter_mm, v.beyond_mm) for v in state.plan.vents)
        return (vents, state.pose, state.rules, tuple(v.id for v in state.set_aside), len(state.plan.left_alone))

    def settle(self) -> None:
        wait_until(lambda: self.session.findings is not None and not self.session.stale and self.session.is_settled)

    def note(self, before: tuple[object, ...], may_merge: bool = False) -> None:
        """An edit was made (or made no difference): keep our own history beside the session's."""
        after = self.wish()
        if after == before:
            return
        merged = may_merge and len(self.session.names) == self.at + 1
        self.line = [*self.line[: self.at + (0 if merged else 1)], after]
        self.at = len(self.line) - 1

    @rule(k=st.integers(0, 7))
    def accept(self, k: int) -> None:
        before = self.wish()
        if self.session.proposals:
            self.session.accept(self.session.proposals[k % len(self.session.proposals)].id)
        self.note(before)

    @rule()
    def accept_all(self) -> None:
        before = self.wish()
        self.session.accept_all()
        self.note(before)

    @rule(k=st.integers(0, 7))
    def set_aside(self, k: int) -> None:
        before = self.wish()
        if self.session.proposals:
            self.session.set_aside_proposal(self.session.proposals[k % len(self.session.proposals)].id)
        self.note(before)

    @rule(k=st.integers(0, 7))
    def remove(self, k: int) -> None:
        before = self.wish()
        if self.session.plan.vents:
            self.session.remove(self.session.plan.vents[k % len(self.session.plan.vents)].id)
        self.note(before)

    @rule(k=st.integers(0, 7), mm=st.sampled_from([0.4, 0.8, 1.6]))
    def set_depth(self, k: int, mm: float) -> None:
        before = self.wish()
        if self.session.plan.vents:
            self.session.set_depth(self.session.plan.vents[k % len(self.session.plan.vents)].id, mm)
        self.note(before, may_merge=True)

    @rule(pose=st.sampled_from(POSES))
    def set_pose(self, pose: Pose) -> None:
        before = self.wish()
        self.session.set_pose(pose)
        self.note(before)

    @rule(mm=st.sampled_from([1.5, 2.5]))
    def set_rules(self, mm: float) -> None:
        before = self.wish()
        self.session.set_rules(VentRules(diameter_mm=mm))
        self.note(before)

    @rule(cavity=st.sampled_from("AB"))
    def leave_alone(self, cavity: str) -> None:
        before = self.wish()
        self.session.leave_alone(cavity, "as it is")
        self.note(before)

    @rule()
    def undo(self) -> None:
        self.session.undo()
        self.at = max(0, self.at - 1)

    @rule()
    def redo(self) -> None:
        self.session.redo()
        self.at = min(len(self.line) - 1, self.at + 1)

    @rule(index=st.integers(0, 30))
    def jump(self, index: int) -> None:
        self.at = index % len(self.line)
        self.session.jump(self.at)

    @rule()
    def close_gate(self) -> None:
        """From now on answers are late."""
        self.gate.open.clear()

    @rule()
    def open_gate(self) -> None:
        self.gate.open.set()

    @rule()
    def cancel(self) -> None:
        """Whatever runs; it does not begin again by itself."""
        self.session.cancel()

    @rule()
    def begin_again(self) -> None:
        self.session.analyse_again()
        assert self.session.interrupted is None

    @rule()
    def wait(self) -> None:
        self.gate.open.set()
        self.session.analyse_again()
        self.settle()

    @precondition(lambda self: hasattr(self, "session"))
    @invariant()
    def the_plan_is_as_wished(self) -> None:
        assert self.wish() == self.line[self.at]
        assert self.session.index == self.at
        assert len(self.session.names) == len(self.line)
        assert self.failures == []

    @precondition(lambda self: hasattr(self, "session"))
    @invariant()
    def what_is_shown_belongs_to_the_wish(self) -> None:
        session = self.session
        state = session.state
        assert state is not None
        if session.stale or session.findings is None:
            assert session.proposals == ()
            return
        assert session.findings.pose == state.pose
        if session.is_settled:
            assert session.preview is not None
            assert {v.diameter_mm for v in session.proposals} <= {state.rules.diameter_mm}
            assert open_proposals(state, session.proposals) == session.proposals
            alone = {cavity for cavity, _ in state.plan.left_alone}
            assert not [x.text for x in session.left if x.text.startswith("A cup in no cavity")]
            bad = {x.text.split(" ")[0] for x in session.left}
            expected = {c.id for c in session.findings.cavities if session.outlook.state(c.id) != "breathing"} - alone  # type: ignore[union-attr]
            assert {name for name in bad if name not in ("Vent", "A*", "B*")} == expected
        picture = session.picture
        assert picture is not None
        assert len(picture.vents) == len(state.plan.vents) + len(session.proposals)


TestSteps = pytest.mark.slow(Steps.TestCase)
TestSteps.settings = settings(max_examples=12, stateful_step_count=25, deadline=None)
