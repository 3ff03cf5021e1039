"""Results are kept by key, and the least recently used ones go when there are too many bytes of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplanner import machine
from ventplanner.app.results import Results, bytes_of, usual_cap
from ventplanner.machine import memory_bytes


@dataclass(frozen=True, eq=False)
class Pair:
    one: object
    two: object


def block(n: int) -> np.ndarray:
    return np.zeros(n, dtype=np.uint8)


def test_an_unknown_key_has_no_result() -> None:
    assert Results().get("analysis") is None


def test_a_result_is_found_again_by_its_key() -> None:
    results, value = Results(), block(10)
    results.put("a", value)
    assert results.get("a") is value
    assert "a" in results
    assert len(results) == 1


def test_what_was_not_used_for_longest_goes_first() -> None:
    results = Results(cap=250_000)
    for key in "abc":
        results.put(key, block(80_000))
    results.get("a")
    results.put("d", block(80_000))
    assert ["a" in results, "b" in results, "c" in results, "d" in results] == [True, False, True, True]


def test_the_newest_result_is_kept_however_large() -> None:
    results = Results(cap=1000)
    results.put("a", block(10))
    results.put("b", block(1_000_000))
    assert results.get("b") is not None
    assert len(results) == 1


def test_a_result_that_is_replaced_counts_once() -> None:
    results = Results()
    results.put("a", block(1000))
    once = results.held
    results.put("a", block(1000))
    assert results.held == once


def test_cleared_results_hold_nothing() -> None:
    results = Results()
    results.put("a", block(1000))
    results.clear()
    assert results.held == 0
    assert results.get("a") is None


@given(st.lists(st.tuples(st.sampled_from("abcdef"), st.integers(0, 60_000)), max_size=40))
def test_held_never_exceeds_the_cap_beyond_one_result(steps: list[tuple[str, int]]) -> None:
    results = Results(cap=100_000)
    for key, size in steps:
        results.put(key, block(size))
        assert results.held <= 100_000 or len(results) == 1
        assert results.get(key) is not None


@pytest.mark.parametrize("shape", [lambda a: [a, a], lambda a: Pair(a, {"again": a}), lambda a: (a[:10], a[10:])])
def test_one_block_of_memory_counts_once(shape: object) -> None:
    a = block(100_000)
    assert bytes_of(shape(a)) < 110_000  # type: ignore[operator]


def test_arrays_in_nested_dataclasses_count() -> None:
    assert bytes_of(Pair(block(50_000), Pair(block(40_000), None))) >= 90_000


@pytest.mark.parametrize(
    ("memory", "cap"), [(1e9, 250e6), (2e9, 250e6), (4e9, 500e6), (16e9, 2e9), (32e9, 4e9), (1e12, 4e9)]
)
def test_the_cap_follows_the_memory_of_the_machine(memory: float, cap: float) -> None:
    assert usual_cap(int(memory)) == cap
    assert Results().cap == usual_cap(memory_bytes())


def test_the_memory_of_this_machine_is_what_the_system_says() -> None:
    installed = next(
        int(line.split()[1]) * 1024
        for line in Path("/proc/meminfo").read_text().splitlines()
        if line.startswith("MemTotal")
    )
    assert 0 < memory_bytes() <= installed


def test_the_limit_of_a_container_counts(tmp_path: Path) -> None:
    (tmp_path / "harbour" / "shop").mkdir(parents=True)
    (tmp_path / "harbour" / "shop" / "memory.max").write_text("max\n")
    (tmp_path / "harbour" / "memory.max").write_text("2000000000\n")
    own = tmp_path / "own"
    own.write_text("0::/harbour/shop\n1:cpu:/elsewhere\nnonsense\n")
    assert list(machine._allowed(tmp_path, own)) == [2_000_000_000]
    (tmp_path / "memory").mkdir()
    (tmp_path / "memory" / "memory.limit_in_bytes").write_text("500000000\n")
    own.write_text("4:memory,cpu:/gone\n")
    assert list(machine._allowed(tmp_path, own)) == [500_000_000]
    assert list(machine._allowed(tmp_path, tmp_path / "none")) == []
