"""The job that is shown, how much of it is done, and the cut that is drawn while the plan changes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hollow_parts import ON_SIDE, found, proposed, two_bells
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QObject, Signal
from pytestqt.qtbot import QtBot

from ventplanner.app import edits
from ventplanner.app.results import Results
from ventplanner.app.state import AppState
from ventplanner.errors import DrillError
from ventplanner.geometry.solid import Solid
from ventplanner.ui.work.cutting import REST_MS, Cutting
from ventplanner.ui.work.jobs import ANALYSIS, EXPORT, OPENING, PICTURE, STAGES, Jobs
from ventplanner.ui.work.worker import MakeOrder

EXPORT_STEPS = (
    ("Looking at the mesh", 0.0),
    ("Casting columns", 0.2),
    ("Finding cavities", 1.0),
    ("preparing the cut", 0.0),
    ("drilling", 1.0),
    ("writing", 1.0),
    ("Reading the file again", 0.0),
    ("Verifying", 0.0),
    ("Looking at the mesh", 0.0),
    ("Finding cups", 0.6),
    ("Verifying", 1.0),
)


def test_the_job_that_matters_most_is_shown() -> None:
    jobs = Jobs()
    assert jobs.foremost is None
    for name in (PICTURE, ANALYSIS, OPENING, EXPORT):
        assert jobs.set_busy(name, True)
        assert jobs.foremost is not None
        assert jobs.foremost.name == name
    assert not jobs.set_busy(EXPORT, True)
    assert jobs.set_busy(EXPORT, False)
    assert jobs.foremost.name == OPENING


def test_the_share_of_an_export_rises_to_all_of_it() -> None:
    jobs, shares = Jobs(), []
    jobs.set_busy(EXPORT, True, cancellable=True)
    for step, share in EXPORT_STEPS:
        jobs.tell(EXPORT, step, share)
        assert jobs.foremost is not None
        assert jobs.foremost.step == step
        assert jobs.foremost.cancellable
        shares.append(jobs.foremost.share)
    assert shares == sorted(shares)
    assert len(set(shares)) >= len(shares) - 3
    assert shares[-1] == pytest.approx(1.0)


@given(st.lists(st.tuples(st.sampled_from([step for step, _ in EXPORT_STEPS] + ["new"]), st.floats(-1, 2))))
def test_whatever_is_told_the_share_never_falls(told: list[tuple[str, float]]) -> None:
    jobs, last = Jobs(), -1.0
    jobs.set_busy(EXPORT, True)
    for step, share in told:
        jobs.tell(EXPORT, step, share)
        assert jobs.foremost is not None
        assert last <= jobs.foremost.share <= 1.0 + 1e-9
        last = jobs.foremost.share


def test_stages_are_the_whole() -> None:
    assert all(sum(weight for _, weight in stages) == pytest.approx(1.0) for stages in STAGES.values())


def test_progress_of_a_job_that_has_ended_is_not_shown() -> None:
    jobs = Jobs()
    jobs.tell(EXPORT, "writing", 0.5)
    assert jobs.foremost is None


class FakePool(QObject):
    """Takes orders, and answers when it is told to."""

    done = Signal(str, str, object)
    failed = Signal(str, str, object)

    def __init__(self) -> None:
        super().__init__()
        self.orders: list[tuple[str, str]] = []
        self.busy = False

    def is_busy(self, _name: str) -> bool:
        return self.busy

    def submit(self, name: str, key: str, _solid: Solid, _make: MakeOrder) -> None:
        self.orders.append((name, key))
        self.busy = True

    def cancel(self, _name: str) -> None:
        self.busy = False

    def answer(self, ok: bool = True) -> None:
        name, key = self.orders[-1]
        self.busy = False
        if ok:
            self.done.emit(name, key, {"vertices": two_bells().vertices, "faces": two_bells().faces})
        else:
            self.failed.emit(name, key, DrillError("The cut failed."))


@pytest.fixture
def pool() -> FakePool:
    return FakePool()


@pytest.fixture
def cutting(pool: FakePool, qtbot: QtBot) -> Cutting:
    del qtbot  # there is an application then
    return Cutting(Results(), pool)  # type: ignore[arg-type]


BARE = AppState(two_bells())
ONE = edits.accept(BARE, proposed().vents[0]).state
TWO = edits.accept(ONE, proposed().vents[1]).state
MOVED = edits.set_depth(TWO, TWO.plan.vents[0].id, 1.1).state


def ordered(qtbot: QtBot, pool: FakePool, count: int) -> None:
    qtbot.waitUntil(lambda: len(pool.orders) == count, timeout=20 * REST_MS)


def test_nothing_is_cut_without_vents(cutting: Cutting, pool: FakePool, qtbot: QtBot) -> None:
    cutting.follow(BARE, found())
    qtbot.wait(2 * REST_MS)
    assert pool.orders == []
    assert cutting.mesh is None


def test_holes_stay_drawn_while_more_are_cut_but_not_when_one_has_moved(
    cutting: Cutting, pool: FakePool, qtbot: QtBot
) -> None:
    cutting.follow(ONE, found())
    assert cutting.mesh is None
    ordered(qtbot, pool, 1)
    pool.answer()
    one = cutting.mesh
    assert one is not None
    cutting.follow(TWO, found())
    assert cutting.mesh is one
    ordered(qtbot, pool, 2)
    pool.answer()
    two = cutting.mesh
    assert two is not one
    cutting.follow(MOVED, found())
    assert cutting.mesh is None
    cutting.follow(ONE, found())
    assert cutting.mesh is one  # cut before


def test_turning_the_part_costs_no_cut(cutting: Cutting, pool: FakePool, qtbot: QtBot) -> None:
    cutting.follow(ONE, found())
    ordered(qtbot, pool, 1)
    pool.answer()
    turned = replace(ONE, pose=ON_SIDE)
    cutting.follow(turned, found(ON_SIDE))
    assert cutting.mesh is not None
    assert cutting.mesh.vertices[:, 2].max() == pytest.approx(40.0)
    assert len(pool.orders) == 1


def test_only_the_latest_plan_is_cut_after_one_that_is_being_cut(
    cutting: Cutting, pool: FakePool, qtbot: QtBot
) -> None:
    cutting.follow(ONE, found())
    ordered(qtbot, pool, 1)
    cutting.follow(TWO, found())
    cutting.follow(MOVED, found())
    qtbot.wait(2 * REST_MS)
    assert len(pool.orders) == 1
    pool.answer()
    assert cutting.mesh is None
    ordered(qtbot, pool, 2)
    pool.answer()
    assert cutting.mesh is not None


def test_a_vent_in_hand_is_cut_when_it_is_let_go(cutting: Cutting, pool: FakePool, qtbot: QtBot) -> None:
    cutting.follow(ONE, found(), passing=True)
    cutting.follow(TWO, found(), passing=True)
    qtbot.wait(2 * REST_MS)
    assert pool.orders == []
    cutting.rest()
    ordered(qtbot, pool, 1)
    pool.answer()
    assert cutting.mesh is not None


def test_a_cut_that_failed_is_told_once_and_not_tried_again_by_itself(
    cutting: Cutting, pool: FakePool, qtbot: QtBot
) -> None:
    told: list[object] = []
    cutting.failed.connect(lambda error, _what: told.append(error))
    cutting.follow(ONE, found())
    ordered(qtbot, pool, 1)
    pool.answer(ok=False)
    cutting.follow(ONE, found())
    qtbot.wait(2 * REST_MS)
    assert (len(pool.orders), len(told)) == (1, 1)
    cutting.retry()
    cutting.follow(ONE, found())
    ordered(qtbot, pool, 2)
