"""The pitch that is chosen: fine enough for the walls, and never too fine for the memory."""

from __future__ import annotations

import bodies
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.resolution import FIGURES_MM, FINEST_MM, MOST_COLUMNS, Resolution, choose_pitch
from ventplanner.geometry.columns import Grid
from ventplanner.geometry.solid import Solid, box_of
from ventplanner.parameters import PITCH_MM


def hollow(width: float, wall: float, height: float = 20.0, depth: float | None = None) -> Solid:
    size = np.array([width, depth or width, height])
    return bodies.solid(bodies.box(size), bodies.inward(bodies.box(size - 2 * wall)))


def columns(part: Solid, chosen: Resolution) -> int:
    low, high = box_of(part.vertices)
    return max(Grid.around(low, high, chosen.pitch_mm, shift).n_columns for shift in (0.0, 0.5))


@settings(max_examples=40)
@given(
    width=st.floats(5.0, 5000.0),
    depth=st.floats(5.0, 5000.0),
    wall=st.floats(0.02, 2.0),
)
def test_the_chosen_pitch_never_needs_too_many_columns(width: float, depth: float, wall: float) -> None:
    part = hollow(width, wall, 40.0, depth)
    chosen = choose_pitch(part.vertices, part.faces, None)
    assert columns(part, chosen) <= MOST_COLUMNS
    assert chosen.pitch_mm in FIGURES_MM
    assert PITCH_MM.check(chosen.pitch_mm) == chosen.pitch_mm
    assert chosen.pitch_mm >= FINEST_MM


@pytest.mark.parametrize("width", [138.0, 150.0, 200.0])
def test_where_memory_decides_the_pitch_is_the_next_one_up_and_the_doubt_is_said(width: float) -> None:
    part = hollow(width, 0.05)
    chosen = choose_pitch(part.vertices, part.faces, None)
    finer = FIGURES_MM[np.searchsorted(FIGURES_MM, chosen.pitch_mm) - 1]
    assert columns(part, Resolution(finer, None, False)) > MOST_COLUMNS
    assert "may miss" in chosen.sentence


@pytest.mark.parametrize(("wall", "pitch"), [(2.0, 0.08), (0.1, 0.08), (0.06, 0.04), (0.03, 0.02)])
def test_a_thin_wall_makes_the_pitch_finer(wall: float, pitch: float) -> None:
    part = hollow(20.0, wall)
    assert choose_pitch(part.vertices, part.faces, None).pitch_mm == pitch


def test_an_asked_pitch_is_kept() -> None:
    part = hollow(20.0, 2.0)
    assert choose_pitch(part.vertices, part.faces, 0.33).pitch_mm == 0.33


def test_a_massive_part_is_not_said_to_have_a_wall() -> None:
    part = bodies.solid(bodies.ball(10.0))
    assert "wall met" not in choose_pitch(part.vertices, part.faces, None).sentence
    part = hollow(20.0, 2.0)
    assert "the thinnest wall met is about 2 mm" in choose_pitch(part.vertices, part.faces, None).sentence
