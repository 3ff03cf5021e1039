"""The exact weld against a dictionary, and what counts as equal."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.typing import NDArray

from ventplanner.geometry.weld import weld, weld_points


def by_dictionary(points: NDArray[np.floating]) -> tuple[list[tuple[float, ...]], list[int]]:
    known: dict[tuple[float, ...], int] = {}
    index = [known.setdefault(tuple((row + 0.0).tolist()), len(known)) for row in points.astype(np.float64)]
    return list(known), index


# Few different values, so that many points coincide.
coordinates = st.sampled_from([0.0, -0.0, 1.0, -1.0, 0.1, 1e-300, 5e-324, 1e300, np.nextafter(1.0, 2.0)])


@given(arrays.arrays(np.float64, st.tuples(st.integers(0, 60), st.just(3)), elements=coordinates))
def test_points_are_joined_exactly_when_equal_and_numbered_by_first_appearance(points: NDArray[np.float64]) -> None:
    distinct, index = weld_points(points)
    expected, numbers = by_dictionary(points)
    assert [tuple(row) for row in distinct.tolist()] == expected
    assert index.tolist() == numbers
    assert not np.signbit(distinct[distinct == 0]).any()


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize("expected", [0, 1])
def test_large_soups_are_welded_like_small_ones(dtype: type, expected: int) -> None:
    """More than one block, more than one doubling of the table, and grid values whose low bits are all zero."""
    grid = np.random.default_rng(3).integers(-30, 30, (200_000, 3)).astype(dtype) / 4
    distinct, index = weld_points(grid, expected=expected)
    unique, inverse = np.unique(grid.astype(np.float64) + 0.0, axis=0, return_inverse=True)
    assert len(distinct) == len(unique)
    np.testing.assert_array_equal(distinct[index], grid)
    first = np.unique(index, return_index=True)[1]
    assert (np.diff(first) > 0).all()
    assert len(np.unique(np.stack([index, inverse.ravel()], axis=1), axis=0)) == len(unique)


def test_neighbouring_floats_stay_apart() -> None:
    soup = np.zeros((2, 3, 3), np.float32)
    soup[:, 1, 0], soup[:, 2, 1] = 1, 1
    soup[1, 1, 0] = np.nextafter(np.float32(1), np.float32(2))
    vertices, faces = weld(soup)
    assert len(vertices) == 4
    assert faces.tolist() == [[0, 1, 2], [0, 3, 2]]


def test_strided_views_need_no_copy_to_be_right() -> None:
    wide = np.random.default_rng(5).integers(0, 4, (500, 5, 7)).astype(np.float32)
    view = wide[::2, 1:4, 2:5]
    vertices, faces = weld(view)
    np.testing.assert_array_equal(vertices[faces], view)


def test_a_triangle_with_equal_corners_stays() -> None:
    vertices, faces = weld(np.ones((1, 3, 3)))
    assert vertices.tolist() == [[1, 1, 1]]
    assert faces.tolist() == [[0, 0, 0]]


def test_an_empty_soup_gives_an_empty_mesh() -> None:
    vertices, faces = weld(np.zeros((0, 3, 3), np.float32))
    assert vertices.shape == (0, 3)
    assert faces.shape == (0, 3)
