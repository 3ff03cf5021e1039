"""Directions are said by axes and angles, never by three numbers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplanner.app.directions import in_words


@pytest.mark.parametrize(
    ("direction", "words"),
    [
        ((0.0, 0.0, -1.0), "−Z"),
        ((2.0, 0.0, 0.0), "+X"),
        ((3.0, 0.0, 4.0), "+Z, tilted 37° towards +X"),
        ((0.0, -1.0, -2.0), "−Z, tilted 27° towards −Y"),
        ((0.5, 0.5, -0.7), "−Z, tilted 45° towards +X and +Y"),
        ((0.925, 0.1, -0.37), "+X, tilted 23° towards −Z"),
        ((0.005, 0.0, -1.0), "−Z, tilted 0.3°"),
    ],
)
def test_in_words(direction: tuple[float, float, float], words: str) -> None:
    assert in_words(direction) == words


SIZE = st.floats(-1.0, 1.0)


@given(st.tuples(SIZE, SIZE, SIZE).filter(lambda d: math.hypot(*d) > 1e-3))
def test_every_direction_has_words_without_numbers_of_a_vector(direction: tuple[float, float, float]) -> None:
    said = in_words(direction)
    assert said[1] in "XYZ"
    assert "(" not in said
    assert "-" not in said
