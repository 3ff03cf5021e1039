"""Triangles near a round tool: distances from its axis, between its ends."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.geometry.bore import Bore
from ventplanner.geometry.tube import from_axis

FINE = 160


def _sampled(bore: Bore, corners: np.ndarray) -> float:
    """The same by looking at some 13 000 points of the triangle."""
    u, v = np.meshgrid(np.linspace(0, 1, FINE), np.linspace(0, 1, FINE))
    u, v = u[u + v <= 1.0 + 1e-12], v[u + v <= 1.0 + 1e-12]
    points = corners[0] + u[:, None] * (corners[1] - corners[0]) + v[:, None] * (corners[2] - corners[0])
    placed = bore.place(points)
    inside = (placed[:, 2] >= 0) & (placed[:, 2] <= bore.length)
    return float(np.hypot(placed[inside, 0], placed[inside, 1]).min()) if inside.any() else np.inf


@settings(max_examples=150)
@given(seed=st.integers(0, 2**31))
def test_distances_are_those_of_the_nearest_of_many_points(seed: int) -> None:
    rng = np.random.default_rng(seed)
    bore = Bore(tuple(rng.uniform(-1, 1, 3)), tuple(rng.uniform(2, 4, 3)), 1.0)
    corners = rng.uniform(-5, 6, (3, 3, 3))
    away, nearest = from_axis(bore, corners)
    for k in range(3):
        assert away[k] <= _sampled(bore, corners[k]) + 1e-9
        if np.isfinite(away[k]):  # and there is such a point
            placed = bore.place(nearest[k])
            assert np.hypot(*placed[:2]) < away[k] + 1e-9
            assert -1e-9 <= placed[2] <= bore.length + 1e-9
            weights, *_ = np.linalg.lstsq(np.vstack((corners[k].T, np.ones(3))), [*nearest[k], 1.0], rcond=None)
            assert (weights > -1e-7).all()
            assert np.allclose(weights @ corners[k], nearest[k], atol=1e-7)


def test_known_places() -> None:
    bore = Bore((0.0, 0.0, 0.0), (0.0, 0.0, 2.0), 1.0)
    across = np.array([[-9.0, -9.0, 1.0], [9.0, -9.0, 1.0], [0.0, 9.0, 1.0]])
    beside = np.array([[3.0, -9.0, -9.0], [3.0, 9.0, -9.0], [3.0, 0.0, 9.0]])
    beyond = across + np.array([0.0, 0.0, 1.5])
    away, nearest = from_axis(bore, np.array([across, beside, beyond]))
    assert away.tolist() == [0.0, 3.0, np.inf]
    assert nearest[0].tolist() == [0.0, 0.0, 1.0]
    assert nearest[1][0] == 3.0
