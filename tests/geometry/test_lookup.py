"""Points looked up in columns, in their join tree and among faces, against slow loops over everything."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import voxel_solid

from ventplanner.analysis.clearance import voxelise
from ventplanner.geometry.columns import Runs, cast
from ventplanner.geometry.join_tree import join_tree
from ventplanner.geometry.rays import Target
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology


@pytest.fixture(scope="module")
def part() -> Solid:
    rng = np.random.default_rng(7)
    return voxel_solid(np.pad(rng.random((7, 6, 8)) < 0.6, 1))


@pytest.fixture(scope="module")
def runs(part: Solid) -> Runs:
    return cast(part.vertices, part.faces, topology(part).skin_of_face, 0.25)


def points_round(part: Solid, count: int) -> np.ndarray:
    low, high = part.bounds
    return np.random.default_rng(3).uniform(low - 1.5, high + 1.5, (count, 3))


def test_each_point_gets_the_run_and_the_branch_that_hold_it(part: Solid, runs: Runs) -> None:
    points, tree = points_round(part, 800), join_tree(runs)
    assert tree.n_branches > 3
    found, branches = runs.run_at(points), tree.branch_at(points)
    grid = runs.grid
    for point, run, branch in zip(points, found, branches, strict=True):
        x, y = (min(max(int(np.floor((point[k] - o) / grid.pitch)), 0), n - 1) for k, o, n in (
            (0, grid.x0, grid.nx), (1, grid.y0, grid.ny)))  # fmt: skip
        column = y * grid.nx + x
        held = [r for r in range(runs.offsets[column], runs.offsets[column + 1]) if runs.z0[r] <= point[2] < runs.z1[r]]
        assert [run] == (held or [-1])
        at = int(tree.branch_of_run[run]) if held else -1
        while at > 0 and point[2] >= tree.merge[at]:
            at = int(tree.parent[at])
        assert branch == at


def test_faces_near_a_box_are_those_whose_boxes_meet_it(part: Solid) -> None:
    corners = part.vertices[part.faces]
    target = Target.of(part.vertices, part.faces)
    for middle, size in ((part.bounds.mean(axis=0), 0.7), (part.bounds[1], 0.1), (part.bounds[1] + 5.0, 1.0)):
        low, high = middle - size, middle + size
        near = ((corners.min(axis=1) <= high) & (corners.max(axis=1) >= low)).all(axis=1)
        np.testing.assert_array_equal(target.near(low, high), np.flatnonzero(near))


def test_faces_in_order_serve_every_pose(part: Solid) -> None:
    turned = np.ascontiguousarray(part.vertices[:, [2, 0, 1]])
    one, other = Target.of(turned, part.faces), Target.bounding(turned, *part.in_order)
    low, high = turned.mean(axis=0) - 1.3, turned.mean(axis=0) + 1.3
    np.testing.assert_array_equal(one.near(low, high), other.near(low, high))
    np.testing.assert_array_equal(one.corners_near(low, high), other.corners_near(low, high))


def test_voxels_hold_the_free_length_of_their_columns(part: Solid, runs: Runs) -> None:
    open_run = np.random.default_rng(1).random(len(runs.z0)) < 0.8
    height = float(part.bounds[1, 2])
    voxels, room = voxelise(runs, open_run, height, 1.0)
    size, stride = voxels.size, round(voxels.size / runs.grid.pitch)
    expected = np.zeros(room.shape)
    edges = (np.arange(room.shape[2] + 1) - 1.5) * size
    for run in np.flatnonzero(open_run):
        j, i = divmod(int(runs.column_of_run[run]), runs.grid.nx)
        lengths = np.minimum(edges[1:], runs.z1[run]) - np.maximum(edges[:-1], runs.z0[run])
        expected[i // stride + 1, j // stride + 1] += np.maximum(lengths, 0.0)
    np.testing.assert_allclose(room, expected * runs.pixel_area, atol=1e-9)
