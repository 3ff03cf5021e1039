"""How much longer a job takes: told only when there is enough to go by, then calm and near the truth."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplanner.ui.work.pace import ENOUGH_S, Pace, in_words


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def test_nothing_is_said_in_the_beginning() -> None:
    clock = Clock()
    pace = Pace(clock)
    assert pace.left_s is None
    for k in range(1, 10):
        clock.now = 100.0 + 0.1 * k
        pace.tell(0.02 * k)
        assert pace.left_s is None


def test_a_steady_job_is_told_truly() -> None:
    clock = Clock()
    pace = Pace(clock)
    for k in range(1, 200):
        clock.now = 100.0 + 0.1 * k
        pace.tell(0.005 * k)
        said = pace.left_s
        if k > 40:
            assert said == pytest.approx(20.0 - 0.1 * k, abs=0.5)


def test_a_share_that_stands_still_does_not_count_down_to_nothing() -> None:
    clock = Clock()
    pace = Pace(clock)
    for k in range(1, 51):
        clock.now = 100.0 + 0.1 * k
        pace.tell(0.01 * k)
    for k in range(300):
        clock.now = 105.0 + 0.1 * k
        said = pace.left_s
        assert said is None or said > 2.0
    clock.now += 30.0
    assert pace.left_s is None or pace.left_s > 20.0


def test_a_share_that_falls_begins_anew() -> None:
    clock = Clock()
    pace = Pace(clock)
    for k in range(1, 51):
        clock.now = 100.0 + 0.1 * k
        pace.tell(0.01 * k)
    assert pace.left_s is not None
    pace.tell(0.1)
    assert pace.left_s is None
    pace.tell(-1.0)
    assert pace.left_s is None


@given(st.lists(st.tuples(st.floats(0.0, 2.0), st.floats(-1.0, 1.0)), max_size=60))
def test_whatever_is_told_the_estimate_is_a_time_or_nothing(told: list[tuple[float, float]]) -> None:
    clock = Clock()
    pace = Pace(clock)
    for step, share in told:
        clock.now += step
        pace.tell(share)
        said = pace.left_s
        assert said is None or (said >= 0.0 and clock.now - 100.0 >= ENOUGH_S)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (1.0, "a few seconds left"),
        (4.9, "a few seconds left"),
        (6.0, "about 5 s left"),
        (21.0, "about 20 s left"),
        (57.0, "about 55 s left"),
        (70.0, "about 1 min left"),
        (130.0, "about 2 min left"),
    ],
)
def test_in_round_words(seconds: float, words: str) -> None:
    assert in_words(seconds) == words
