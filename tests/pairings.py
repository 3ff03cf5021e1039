"""Parts and poses to look at them in: each of both in every run, each pair in `tests/long.sh`."""

from __future__ import annotations

from collections.abc import Iterable

import pytest


def paired(parts: Iterable[str], poses: Iterable[str], *, always: tuple[str, ...] = ()) -> list[object]:
    """Values for `parametrize`: every other pair, and all pairs of the poses of `always`, in every run."""
    return [
        pytest.param(part, pose, marks=() if pose in always or (i + j) % 2 == 0 else pytest.mark.long)
        for i, part in enumerate(parts)
        for j, pose in enumerate(poses)
    ]
