"""Figures that are typed: each is an entry, none is lost, and nothing stands still while one is fitted."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hollow_parts import ON_SIDE
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, drag, opened_, part_, session_, settle, shaped  # noqa: F401  fixtures

from ventplanner.app import dragging
from ventplanner.io.project import load_plan
from ventplanner.ui.session import Session
from ventplanner.ui.work import fits


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Fits of diameters that come only when they are let through."""
    may_come = threading.Event()
    resized: Callable[..., Any] = dragging.resized

    def held(*values: Any) -> Any:
        assert may_come.wait(MOST_MS / 1000)
        return resized(*values)

    monkeypatch.setattr(dragging, "resized", held)
    yield may_come
    may_come.set()


def test_two_typed_diameters_are_two_entries(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    first = opened.plan.vents[0]
    for mm in (1.5, 1.2):
        opened.set_diameter(first.id, mm)
    settle(qtbot, opened)
    assert opened.names[2:] == tuple(f"Set diameter of vent {first.id} to {mm} mm" for mm in (1.5, 1.2))
    opened.undo()
    assert opened.plan.vents[0].diameter_mm == 1.5
    opened.set_depth(first.id, 0.9)
    opened.set_depth(first.id, 1.1)
    assert len(opened.names) == 5


def test_steps_by_the_arrow_keys_are_one_entry_until_there_is_a_pause(
    opened: Session, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [100.0]
    monkeypatch.setattr(fits.time, "monotonic", lambda: now[0])
    opened.accept_all()
    first = opened.plan.vents[0]

    def step(mm: float, after: float, stepping: bool = True) -> None:
        now[0] += after
        opened.set_depth(first.id, mm, stepping)

    for k in range(5):
        step(0.5 + 0.1 * k, 0.3)
    assert opened.names[2:] == (f"Set depth of vent {first.id} to 0.9 mm",)
    step(1.0, 5.0)
    step(1.1, 0.2)
    assert len(opened.names) == 4
    step(2.0, 0.1, stepping=False)  # typed: an entry of its own, and the steps after it are another one
    step(2.1, 0.1)
    step(2.2, 0.1)
    assert [opened.names[k].rpartition(" to ")[2] for k in range(2, 6)] == ["0.9 mm", "1.1 mm", "2.0 mm", "2.2 mm"]
    opened.undo()
    opened.undo()
    assert opened.plan.vents[0].beyond_mm == 1.1


def test_nothing_stands_still_and_nothing_is_lost_while_a_figure_is_fitted(
    opened: Session, gate: threading.Event, tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fits, "FIT_PATIENCE_S", 0.01)
    opened.accept_all()
    settle(qtbot, opened)
    first, second = opened.plan.vents[:2]
    target = tmp_path / "work.ventplan"
    saved = counted(opened.saved)
    # All of this returns, although no fit can have come.
    opened.set_diameter(first.id, 1.5)
    opened.set_diameter(second.id, 1.2)
    opened.set_depth(first.id, 0.9)
    opened.save(str(target))
    opened.remove(second.id)
    opened.undo()
    assert len(opened.names) == 2
    assert opened.is_unsaved
    assert not opened.is_settled
    gate.set()
    settle(qtbot, opened)
    qtbot.waitUntil(lambda: bool(saved), timeout=MOST_MS)
    assert [name.split(" vent ")[0] for name in opened.names[2:]] == ["Set diameter of"] * 2 + [
        "Set depth of",
        "Remove",
    ]
    assert opened.index == len(opened.names) - 2
    assert [v.diameter_mm for v in opened.plan.vents[:2]] == [1.5, 1.2]
    assert [v.diameter_mm for v in load_plan(target).plan.vents[:2]] == [1.5, 1.2]
    assert load_plan(target).plan.vents[0].beyond_mm == 0.9
    assert not opened.is_unsaved


def test_a_figure_typed_while_the_part_is_looked_at_is_fitted_afterwards(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    first = opened.plan.vents[0]
    opened.set_pose(ON_SIDE)
    assert opened.stale
    opened.set_diameter(first.id, 1.5)
    settle(qtbot, opened)
    assert opened.plan.vents[0].diameter_mm == 1.5
    assert opened.undo_name == f"Set diameter of vent {first.id} to 1.5 mm"


def test_closing_asks_about_a_figure_that_is_being_fitted_and_forgets_it_then(
    opened: Session, part: str, gate: threading.Event, qtbot: QtBot
) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    with qtbot.waitSignal(opened.saved, timeout=MOST_MS):
        opened.save(str(Path(part).with_name("work.ventplan")))
    assert not opened.is_unsaved
    opened.set_diameter(opened.plan.vents[0].id, 1.5)
    assert opened.is_unsaved
    opened.close_part()
    gate.set()
    opened.open(part)
    settle(qtbot, opened)
    assert (opened.plan.vents, opened.names[1:]) == ((), ())


def test_a_fit_that_fails_holds_up_nothing(opened: Session, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> Any:
        raise MemoryError

    monkeypatch.setattr(fits, "FIT_PATIENCE_S", 0.0)
    monkeypatch.setattr(dragging, "resized", broken)
    failures = counted(opened.failed)
    opened.accept_all()
    settle(qtbot, opened)
    first = opened.plan.vents[0]
    opened.set_diameter(first.id, 1.5)
    opened.set_depth(first.id, 0.9)
    settle(qtbot, opened)
    assert "not enough memory" in str(failures[0][0])
    assert opened.plan.vents[0].beyond_mm == 0.9


def test_the_end_of_a_drag_is_not_lost_to_what_follows_at_once(
    opened: Session, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fits, "FIT_PATIENCE_S", 0.0)
    opened.accept_all()
    settle(qtbot, opened)
    first = opened.plan.vents[0]
    drag(opened, f"vent {first.id}", -8.0, -4.0)
    opened.drag_end()
    opened.set_depth(first.id, 0.9)
    settle(qtbot, opened)
    assert opened.plan.vents[0].entry_mm == pytest.approx((-8.0, -10.0, -4.0), abs=1e-5)
    assert opened.plan.vents[0].beyond_mm == 0.9
    assert len(opened.names) == 4
