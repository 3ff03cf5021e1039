"""Numbers out of text files, with the place of the first one that is none."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray
from ventplanner.io.content import damaged

Words = Sequence[bytes] | Sequence[str]


def floats(path: Path, words: Words, what: str) -> FloatArray:
    """(n,) float64, each correctly rounded. Raises FileReadError that says which word, of `what`, is no number."""
    try:
        return np.fromiter(map(float, words), dtype=np.float64, count=len(words))
    except ValueError:
        raise _no_number(path, words, float, what) from None


def integers(path: Path, words: Words, what: str) -> NDArray[np.int64]:
    """(n,) int64. Raises FileReadError that says which word, of `what`, is no whole number of a usable size."""
    try:
        return np.fromiter(map(int, words), dtype=np.int64, count=len(words))
    except (ValueError, OverflowError):
        raise _no_number(path, words, lambda word: np.int64(int(word)), what) from None


def _no_number(path: Path, words: Words, parse: object, what: str) -> Exception:
    for place, word in enumerate(words):
        try:
            parse(word)  # type: ignore[operator]
        except (ValueError, OverflowError):
            shown = word.decode("utf-8", "replace") if isinstance(word, bytes) else word
            return damaged(path, f"{what}: {shown[:40]!r} is no number (value {place + 1} of {len(words)})")
    raise AssertionError("every word is a number")
