"""Polygons into triangles: area and boundary stay, whatever the shape."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from ventplanner.io.polygons import triangulate

ARROW = [(0, 0, 0), (4, 2, 0), (0, 4, 0), (1, 2, 0)]  # not convex at the last corner
COMB = [(0, 0, 0), (7, 0, 0), (7, 3, 0), (6, 3, 0), (6, 1, 0), (4, 1, 0), (4, 3, 0), (3, 3, 0), (3, 1, 0), (0, 1, 0)]


def cut(loop: NDArray[np.float64]) -> NDArray[np.int64]:
    return triangulate(loop, np.arange(len(loop)), np.array([len(loop)]))[0]


def areas(loop: NDArray[np.float64], triangles: NDArray[np.int64]) -> NDArray[np.float64]:
    a, b, c = (loop[triangles[:, i]] for i in range(3))
    vectors: NDArray[np.float64] = np.cross(b - a, c - a) / 2
    return vectors


def boundary(triangles: NDArray[np.int64]) -> Counter[tuple[int, int]]:
    edges = Counter((int(t[i]), int(t[(i + 1) % 3])) for t in triangles for i in range(3))
    return Counter({(a, b): n - edges[b, a] for (a, b), n in edges.items() if n > edges[b, a]})


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize(("shape", "area"), [(ARROW, 6.0), (COMB, 7.0 + 2 * 1 + 2 * 1)])
def test_polygons_that_are_not_convex_are_cut_without_overlap(
    shape: list[tuple[int, int, int]], area: float, axis: int, turned: bool
) -> None:
    loop = np.roll(np.array(shape, float)[:: -1 if turned else 1], axis, axis=1)
    triangles = cut(loop)
    assert len(triangles) == len(loop) - 2
    # No overlap: the areas without sign add up to that of the polygon.
    assert np.linalg.norm(areas(loop, triangles), axis=1).sum() == pytest.approx(area)
    assert boundary(triangles) == Counter({(i, (i + 1) % len(loop)): 1 for i in range(len(loop))})


@given(st.lists(st.tuples(*[st.integers(-9, 9)] * 3), min_size=3, max_size=12))
def test_any_loop_keeps_its_boundary_and_its_area_vector(points: list[tuple[int, int, int]]) -> None:
    loop = np.array(points, float)
    triangles = cut(loop)
    assert len(triangles) == len(loop) - 2
    assert boundary(triangles) == Counter({(i, (i + 1) % len(loop)): 1 for i in range(len(loop))})
    newell = np.cross(loop, np.roll(loop, -1, axis=0)).sum(axis=0) / 2
    np.testing.assert_allclose(areas(loop, triangles).sum(axis=0), newell, atol=1e-9)


def test_polygons_of_different_sizes_stay_in_order() -> None:
    points = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (-1, 0.5, 0)], float)
    corners = np.array([0, 1, 2, 0, 1, 2, 3, 0, 1, 0, 1, 2, 3, 4])
    triangles, polygon = triangulate(points, corners, np.array([3, 4, 2, 5]))
    assert polygon.tolist() == [0, 1, 1, 3, 3, 3]
    assert triangles[:3].tolist() == [[0, 1, 2], [0, 1, 2], [0, 2, 3]]
