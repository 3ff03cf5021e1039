"""Distances to triangles and on voxels, against brute force and other libraries."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from bodies import ball, box, cut, rod, solid
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from ventplanner.geometry.clearance_kernels import squared_distance
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.rays import Target

SEEDS = st.integers(0, 2**31)


def test_distance_to_a_mesh_is_that_of_trimesh() -> None:
    mesh = cut(box(20.0), ball(8.0, (3, 2, 1), 3), rod((0, 0, 0), (15, 5, 5), 1.0))
    points = np.random.default_rng(1).uniform(-14.0, 14.0, (400, 3))
    _, expected, _ = trimesh.proximity.closest_point_naive(mesh, points)
    near = NearTriangles(np.ascontiguousarray(mesh.triangles))
    np.testing.assert_allclose(near.distance(points), expected, atol=1e-9)


@given(SEEDS)
def test_distance_to_a_triangle_is_the_least_of_a_quadratic_programme(seed: int) -> None:
    """The nearest point as the best of the plane's foot, the edges' feet and the corners, each by least squares."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-1.0, 1.0, (3, 3)) * 10.0 ** rng.integers(-2, 3)
    points = rng.uniform(-2.0, 2.0, (20, 3)) * 10.0 ** rng.integers(-2, 3)
    expected = np.full(20, np.inf)
    for n, p in enumerate(points):
        for subset in ((0, 1, 2), (0, 1), (1, 2), (2, 0), (0,), (1,), (2,)):
            base, edges = corners[subset[0]], (corners[list(subset[1:])] - corners[subset[0]]).T
            share = np.linalg.lstsq(edges, p - base, rcond=None)[0] if len(subset) > 1 else np.zeros(0)
            if (share >= 0.0).all() and share.sum() <= 1.0:
                expected[n] = min(expected[n], np.linalg.norm(base + edges @ share - p))
    out = NearTriangles(corners[None]).distance(points)
    np.testing.assert_allclose(out, expected, rtol=1e-7, atol=1e-9 * np.abs(corners).max())


def test_flat_triangles_do_not_spoil_the_distance() -> None:
    corners = np.array(
        [[[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 0, 0], [0, 0, 0], [0, 0, 0]], [[0, 0, 0], [2, 0, 0], [0, 2, 0]]]
    )
    out = NearTriangles(corners.astype(float)).distance(np.array([[1.0, -3.0, 0.0], [0.5, 0.5, 2.0]]))
    np.testing.assert_allclose(out, [3.0, 2.0])


def test_leaving_out_blocks_that_are_farther_changes_no_bit() -> None:
    rng = np.random.default_rng(5)
    corners = rng.normal(size=(203, 1, 3)) * 4.0 + 0.3 * rng.normal(size=(203, 3, 3))
    corners[::5, 2] = corners[::5, 1] + 1e-7 * corners[::5, 2]  # slivers
    points = rng.normal(size=(60, 3)) * 5.0
    alone = [NearTriangles(corners[k : k + 1]).distance(points) for k in range(len(corners))]
    np.testing.assert_array_equal(NearTriangles(corners).distance(points), np.min(alone, axis=0))


@given(SEEDS)
def test_triangles_kept_around_a_place_suffice_there(seed: int) -> None:
    rng = np.random.default_rng(seed)
    part = solid(cut(ball(10.0, fine=2), box(9.0)))
    centre, reach = rng.uniform(-9.0, 9.0, 3), rng.uniform(0.5, 6.0)
    near = NearTriangles.around(part.vertices, part.faces, centre, reach)
    same = NearTriangles.within(Target.of(part.vertices, part.faces), centre, reach)
    assert (near is None) == (same is None)
    if near is not None and same is not None:
        np.testing.assert_array_equal(near.corners, same.corners)
    points = centre + rng.uniform(-0.3, 0.3, (10, 3)) * reach
    everything = NearTriangles(np.ascontiguousarray(part.vertices[part.faces])).distance(points)
    exact = everything <= 0.7 * reach  # the nearest triangle is then within reach of the centre
    if near is None:
        assert not exact.any()
        return
    found = near.distance(points)
    np.testing.assert_allclose(found[exact], everything[exact], atol=1e-12)
    assert (found >= everything - 1e-12).all()


@given(
    seed=SEEDS,
    shape=st.tuples(*[st.integers(1, 13)] * 3),
    share=st.sampled_from([0.02, 0.3, 0.9, 0.99]),
)
def test_clearance_on_voxels_is_scipys_exact_transform(seed: int, shape: tuple[int, int, int], share: float) -> None:
    free = np.random.default_rng(seed).random(shape) < share
    free.flat[0] = False  # a distance needs something to be distant from
    d2 = np.empty(shape, dtype=np.int32)
    squared_distance(free.astype(np.uint8), d2)
    expected = np.rint(ndimage.distance_transform_edt(free) ** 2).astype(np.int64)
    np.testing.assert_array_equal(d2, expected)


@pytest.mark.parametrize("shape", [(40, 3, 5), (3, 60, 2), (2, 2, 90), (25, 30, 35)])
def test_clearance_is_exact_far_from_material(shape: tuple[int, int, int]) -> None:
    free = np.ones(shape, dtype=np.uint8)
    free[0, -1, shape[2] // 3] = 0
    d2 = np.empty(shape, dtype=np.int32)
    squared_distance(free, d2)
    np.testing.assert_array_equal(d2, np.rint(ndimage.distance_transform_edt(free) ** 2))
