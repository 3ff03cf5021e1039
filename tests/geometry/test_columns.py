"""Column runs against measures of the mesh, points inside it, and real booleans."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from bodies import Mesh, ball, bell_buoy, box, cut, inward, moved, rod, rotation, solid, union, voxel_solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.geometry.columns import Grid, Runs, Tool, cast, drilled, tool_intervals
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology

SEEDS = st.integers(0, 2**31)


def runs_of(part: Solid | Mesh, pitch: float, shift: float = 0.0) -> Runs:
    part = part if isinstance(part, Solid) else solid(part)
    low = part.bounds[0, 2]
    return cast(part.vertices - (0, 0, low), part.faces, topology(part).skin_of_face, pitch, shift=shift)


def check_shape(runs: Runs) -> None:
    """Every column is a row of runs from -inf to +inf with material between them; the rim is empty."""
    first, last = runs.offsets[:-1], runs.offsets[1:] - 1
    assert np.isneginf(runs.z0[first]).all()
    assert np.isposinf(runs.z1[last]).all()
    assert (runs.z1 > runs.z0).all()
    same = runs.column_of_run[1:] == runs.column_of_run[:-1]
    # Where a column grazes the skin the material has no thickness.
    assert (runs.z0[1:][same] >= runs.z1[:-1][same]).all()
    count = np.diff(runs.offsets).reshape(runs.grid.ny, runs.grid.nx)
    assert (count[[0, -1], :] == 1).all()
    assert (count[:, [0, -1]] == 1).all()


@pytest.mark.parametrize("shift", [0.0, 0.25, 0.5, 0.99])
def test_the_columns_of_a_ball_end_on_its_surface(shift: float) -> None:
    runs = runs_of(ball(10.0, fine=6), 0.4, shift)
    check_shape(runs)
    columns = np.flatnonzero(np.diff(runs.offsets) == 2)
    x, y = runs.grid.centres(columns)
    half = np.sqrt(np.maximum(100.0 - x**2 - y**2, 0.0))
    inside = half > 1.0  # near the rim heights change without bound
    below, above = runs.z1[runs.offsets[columns]], runs.z0[runs.offsets[columns] + 1]
    np.testing.assert_allclose(below[inside], 10.0 - half[inside], atol=0.06)
    np.testing.assert_allclose(above[inside], 10.0 + half[inside], atol=0.06)
    assert runs.material_volume == pytest.approx(4.0 / 3.0 * np.pi * 1000.0, rel=0.003)


@settings(max_examples=25)
@given(seed=SEEDS, pitch=st.sampled_from([0.2, 0.5]), shift=st.floats(0.0, 1.0))
def test_volume_between_columns_is_that_of_the_mesh_however_it_is_turned(seed: int, pitch: float, shift: float) -> None:
    part = moved(solid(box(20.0), inward(box(13.0)), ball(3.0, fine=2)), rotation(seed), (3, -4, 5))
    runs = runs_of(part, pitch, shift)
    check_shape(runs)
    assert not runs.bad.any()
    assert runs.material_volume == pytest.approx(part.volume, rel=0.02)


@settings(max_examples=25)
@given(seed=SEEDS, pitch=st.sampled_from([1.0, 0.5, 0.25]))
def test_faces_on_pixel_edges_and_corners_count_exactly_once(seed: int, pitch: float) -> None:
    filled = np.random.default_rng(seed).random((6, 5, 4)) < 0.6
    filled[0, 0, 0] = filled[-1, -1, -1] = filled[0, -1, 0] = filled[-1, 0, 0] = True
    runs = runs_of(voxel_solid(filled), pitch)
    check_shape(runs)
    assert runs.material_volume == pytest.approx(np.count_nonzero(filled), rel=1e-12)
    centres = np.argwhere(np.ones_like(filled)) + 0.5
    solid_at = runs.run_at(centres) < 0
    np.testing.assert_array_equal(solid_at.reshape(filled.shape), filled)


@settings(max_examples=15)
@given(SEEDS)
def test_centres_on_slanted_edges_belong_to_one_face(seed: int) -> None:
    """Prisms over triangles with corners on pixel centres: edges run through centres all the time."""
    rng = np.random.default_rng(seed)
    points = np.unique(rng.integers(0, 12, (7, 2)), axis=0).astype(float)
    hull = trimesh.convex.convex_hull(
        np.vstack([np.c_[points, np.zeros(len(points))], np.c_[points, np.full(len(points), 3.0)]])
    )
    part = Solid(np.asarray(hull.vertices) + 0.5, np.asarray(hull.faces, dtype=np.int32))
    runs = cast(part.vertices, part.faces, topology(part).skin_of_face, 1.0)
    check_shape(runs)
    assert not runs.bad.any()


def test_points_are_found_in_the_run_that_holds_them() -> None:
    part = solid(cut(union(box(16.0), ball(9.0, (4, 3, 5), 5)), box(9.0), rod((0, 0, 0), (12, 2, 3), 1.5)))
    runs = runs_of(part, 0.1)
    p = np.random.default_rng(7).uniform(-9.0, 9.0, (600, 3))
    # Depth in the material, from the formulas of its pieces.
    way = np.array([12.0, 2.0, 3.0]) / np.sqrt(157.0)
    along = p @ way
    across = np.linalg.norm(p - along[:, None] * way, axis=1)
    drilled_out = np.minimum(1.5 - across, np.minimum(along, np.sqrt(157.0) - along))
    whole = np.maximum(8.0 - np.abs(p).max(axis=1), 9.0 - np.linalg.norm(p - (4, 3, 5), axis=1))
    depth = np.minimum(whole, -np.maximum(drilled_out, 4.5 - np.abs(p).max(axis=1)))
    sure = np.abs(depth) > 0.15
    held = runs.run_at(p - (0, 0, part.bounds[0, 2]))
    np.testing.assert_array_equal(held[sure] < 0, depth[sure] > 0)
    assert np.count_nonzero(sure) > 500


def test_bodies_buried_in_others_change_nothing() -> None:
    bare, full = (
        runs_of(p, 0.3) for p in (solid(bell_buoy()), solid(bell_buoy(), ball(0.8, (9, 0, 0), 2), ball(0.5, (0, 9, 0))))
    )
    assert full.material_volume == pytest.approx(bare.material_volume, rel=1e-9)


def test_a_missing_face_is_patched_by_its_neighbours_and_said() -> None:
    part = solid(ball(10.0, fine=5))
    hurt = Solid(part.vertices, np.delete(part.faces, [100, 5000], axis=0))
    runs = cast(hurt.vertices + 10.0, hurt.faces, np.zeros(len(hurt.faces), np.int32), 0.1, tight=False)
    assert 0 < runs.bad.sum() < 50
    assert runs.material_volume == pytest.approx(part.volume, rel=0.003)


def test_the_plate_closes_what_is_thinner_than_a_layer_and_leaves_the_way_round() -> None:
    table = cut(box((20, 20, 10)), box((16, 16, 10), (0, 0, -8)), box((4, 30, 2 * 0.06), (0, 0, -5)))
    runs = runs_of(table, 0.5).on_plate(0.1)
    i, j = runs.column_of_run % runs.grid.nx, runs.column_of_run // runs.grid.nx
    rim = (i == 0) | (j == 0) | (i == runs.grid.nx - 1) | (j == runs.grid.ny - 1)
    assert np.isneginf(runs.z0[rim]).all()
    assert (runs.z0[~rim] >= 0.0).all()
    low = ~rim & (runs.z0 == 0.0)
    assert (runs.z1[low] >= 0.1).all()
    inner = runs.run_at(np.array([[0.1, 0.1, 1.0]]))[0]
    assert (runs.z0[inner], runs.z1[inner]) == pytest.approx((0.0, 2.0))


@settings(max_examples=60)
@given(
    start=st.tuples(*[st.floats(-6.0, 6.0)] * 3),
    end=st.tuples(*[st.floats(-6.0, 6.0)] * 3),
    radius=st.floats(0.3, 3.0),
    axis=st.sampled_from([None, 0, 1, 2]),
)
def test_a_drill_covers_the_points_within_its_radius_and_length(
    start: tuple[float, ...], end: tuple[float, ...], radius: float, axis: int | None
) -> None:
    a, b = np.array(start), np.array(end)
    if axis is not None:  # exactly along an axis of the build
        b = a.copy()
        b[axis] += 4.0
    if np.linalg.norm(b - a) < 0.5:
        return
    grid = Grid.around(np.full(2, -8.0), np.full(2, 8.0), 0.37)
    columns, low, high = tool_intervals(Tool(tuple(a), tuple(b), radius), grid)
    z = np.linspace(-11.0, 11.0, 221)
    x, y = grid.centres(np.arange(grid.n_columns))
    points = np.stack(np.broadcast_arrays(x[:, None], y[:, None], z[None, :]), axis=-1)
    u = (b - a) / np.linalg.norm(b - a)
    along = (points - a) @ u
    across = np.linalg.norm(points - a - along[..., None] * u, axis=-1)
    depth = np.minimum(np.minimum(along, np.linalg.norm(b - a) - along), radius - across)
    covered = np.zeros(depth.shape, dtype=bool)
    covered[columns] = (z >= low[:, None]) & (z <= high[:, None])
    sure = np.abs(depth) > 1e-6
    np.testing.assert_array_equal(covered[sure], depth[sure] > 0)


@settings(max_examples=25)
@given(SEEDS)
def test_drilled_columns_are_those_of_the_real_cut(seed: int) -> None:
    """The boolean by Manifold, with cylinders of 128 sides: their area is 0.04 % short of the circle's."""
    rng = np.random.default_rng(seed)
    body = cut(union(box(16.0), ball(9.0, (4, 3, 5), 3)), ball(7.0, (0, 0, 0), 3))
    tools = []
    for _ in range(rng.integers(1, 4)):
        way = rng.standard_normal(3)
        way /= np.linalg.norm(way)
        tools.append((way * rng.uniform(2.0, 6.0), way * rng.uniform(16.0, 18.0), rng.uniform(0.5, 2.0)))
    part = solid(body)
    low = np.array([0.0, 0.0, part.bounds[0, 2]])
    runs = runs_of(part, 0.2)
    preview = drilled(runs, tuple(Tool(tuple(a - low), tuple(b - low), float(r)) for a, b, r in tools))
    check_shape(preview)
    cut_body = cut(body, *(rod(a, b, r, 128) for a, b, r in tools))
    again = solid(cut_body)
    real = cast(again.vertices - low, again.faces, topology(again).skin_of_face, 0.2)
    taken = runs.material_volume - preview.material_volume
    assert taken == pytest.approx(body.volume - cut_body.volume, rel=0.03)
    assert preview.material_volume == pytest.approx(cut_body.volume, rel=0.005)
    if (real.grid.nx, real.grid.ny) == (runs.grid.nx, runs.grid.ny):
        assert taken == pytest.approx(runs.material_volume - real.material_volume, rel=0.01)
