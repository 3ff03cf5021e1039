"""A hand: one thread for one thing after the other, which goes when there is nothing more to do."""

from __future__ import annotations

import gc
import threading
import time
import weakref

import pytest

from ventplanner.ui.work import hand
from ventplanner.ui.work.hand import Hand


def until(true: object) -> None:
    end = time.monotonic() + 10.0
    while not true():  # type: ignore[operator]
        assert time.monotonic() < end
        time.sleep(0.005)


def test_all_is_done_in_order_by_one_thread() -> None:
    done: list[tuple[int, int]] = []
    worker = Hand("ventplanner test hand")
    for k in range(50):
        worker.do(lambda k=k: done.append((k, threading.get_ident())))  # type: ignore[misc]
    until(lambda: len(done) == 50)
    assert [k for k, _ in done] == list(range(50))
    assert len({who for _, who in done}) == 1
    assert done[0][1] != threading.get_ident()


def test_it_goes_when_nothing_is_to_do_and_comes_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hand, "STAYS_S", 0.02)
    worker, seen = Hand("ventplanner passing hand"), []
    for _ in range(3):
        worker.do(lambda: seen.append(threading.current_thread().name))
        until(lambda: not any(t.name == "ventplanner passing hand" for t in threading.enumerate()))
    assert seen == ["ventplanner passing hand"] * 3


def test_what_was_done_is_not_kept() -> None:
    class Large:
        def work(self) -> None:
            pass

    large, worker, gone = Large(), Hand("ventplanner keeping hand"), threading.Event()
    weakref.finalize(large, gone.set)
    worker.do(large.work)
    del large
    for _ in range(100):
        gc.collect()
        if gone.wait(0.05):
            break
    assert gone.is_set()
