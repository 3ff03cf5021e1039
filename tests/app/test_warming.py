"""The compiled inner loops are made ready one by one, the one that reading needs first."""

from __future__ import annotations

import sys

import pytest

from ventplanner import compile_cache
from ventplanner.app.warming import FIRST_START, GETTING_READY, LATER, warm


def test_all_inner_loops_are_loaded_and_told_in_order() -> None:
    told: list[tuple[str, float]] = []
    warm(lambda phase, share: told.append((phase, share)))
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert {phase for phase, _ in told} <= {FIRST_START, GETTING_READY}
    wanted = [file for file in compile_cache.kernel_sources() if file.stem not in LATER]
    assert len(wanted) == len(compile_cache.kernel_sources()) - len(LATER)
    assert len(told) >= len(wanted)
    for file in wanted:
        assert any((getattr(m, "__file__", None) or "") == str(file) for m in list(sys.modules.values()))


def test_whatever_progress_raises_passes() -> None:
    class StopError(Exception):
        pass

    def stop(_phase: str, _share: float) -> None:
        raise StopError

    with pytest.raises(StopError):
        warm(stop)
