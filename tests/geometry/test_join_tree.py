"""The join tree of void runs, on profiles that can be checked by eye and on random ones by a flood fill."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import voxel_solid
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from ventplanner.geometry.columns import ANY_CLASS, Grid, Runs, cast
from ventplanner.geometry.join_tree import JoinTree, join_tree, sealed_pieces
from ventplanner.geometry.topology import topology


def runs_from(columns: list[list[tuple[float, float]]], nx: int, classes: list[int] | None = None) -> Runs:
    """Void runs given by hand, column by column (row by row of nx), pitch 1."""
    offsets = np.cumsum([0] + [len(c) for c in columns])
    flat = np.array([run for column in columns for run in column], dtype=float)
    void_class = np.zeros(len(flat), np.int32) if classes is None else np.array(classes, np.int32)
    grid = Grid(0.0, 0.0, 1.0, nx, len(columns) // nx)
    return Runs(grid, offsets, flat[:, 0].copy(), flat[:, 1].copy(), void_class, np.zeros(len(columns), bool))


def profile(heights: list[float]) -> Runs:
    """A row of columns with floors at these heights, open above, between two empty columns."""
    inf = np.inf
    return runs_from([[(-inf, inf)], *[[(-inf, -1.0), (h, inf)] for h in heights], [(-inf, inf)]], len(heights) + 2)


def pairs(tree: JoinTree) -> list[tuple[float, float, int]]:
    """Birth, end and parent of all branches that last."""
    return [
        (float(b), float(m), int(p))
        for b, m, p in zip(tree.birth[1:], tree.merge[1:], tree.parent[1:], strict=True)
        if m > b
    ]


def test_valleys_join_at_the_ridges_between_them() -> None:
    tree = join_tree(profile([4, 1, 3, 0, 5]))
    # The deeper valley is the older one; it spills over the left rim.
    assert sorted(pairs(tree)) == [(0.0, 4.0, 0), (1.0, 3.0, 1)]
    np.testing.assert_allclose(sorted(tree.opens[1:3]), [4.0, 4.0])
    assert (tree.component == 0).all()


def test_what_a_valley_holds_after_a_join_counts_for_the_older_one() -> None:
    tree = join_tree(profile([4, 1, 3, 0, 5]))
    pieces = sealed_pieces(tree, np.zeros(tree.n_branches, np.int32), 1, 6.0, 1.0)
    by_birth = {float(b): float(v) for b, v in zip(tree.birth[1:], pieces.volume[1:], strict=True) if v > 0}
    assert by_birth == {1.0: 2.0, 0.0: 3.0 + 3.0 * 1.0}
    np.testing.assert_allclose(pieces.curves[0], [1.0, 2.0, 2.0, 3.0, 0.0, 0.0])


def test_a_run_between_two_floors_joins_only_while_it_overlaps() -> None:
    inf = np.inf
    out, wall = [(-inf, inf)], [(-inf, 0.0), (9.0, inf)]
    room = [(-inf, 0.0), (1.0, 4.0), (9.0, inf)]
    high = [(-inf, 0.0), (4.0, 6.0), (9.0, inf)]  # touches the room at one height only: a way of no width
    tree = join_tree(runs_from([out, wall, room, high, wall, out], 6))
    assert sorted(pairs(tree)) == [(1.0, inf, -1), (4.0, inf, -1)]
    overlapping = [(-inf, 0.0), (3.5, 6.0), (9.0, inf)]
    tree = join_tree(runs_from([out, wall, room, overlapping, wall, out], 6))
    assert pairs(tree) == [(1.0, inf, -1)]


def test_void_of_different_classes_never_joins_but_a_drill_joins_both() -> None:
    inf = np.inf
    out = [(-inf, inf)]
    room, next_room = [(-inf, 0.0), (1.0, 4.0), (9.0, inf)], [(-inf, 0.0), (2.0, 4.0), (9.0, inf)]
    classes = [0, 0, 1, 0, 0, 2, 0, 0]
    assert sorted(pairs(join_tree(runs_from([out, room, next_room, out], 4, classes)))) == [
        (1.0, inf, -1),
        (2.0, inf, -1),
    ]
    classes[2] = ANY_CLASS
    # The drilled room meets the outside's columns on its other side, and the next room.
    tree = join_tree(runs_from([out, room, next_room, out], 4, classes))
    assert np.isfinite(tree.opens[1:]).all()


@settings(max_examples=30)
@given(seed=st.integers(0, 2**31), share=st.sampled_from([0.4, 0.6, 0.8]))
def test_components_in_the_end_are_those_of_the_free_space(seed: int, share: float) -> None:
    filled = np.random.default_rng(seed).random((7, 6, 6)) < share
    filled[0, 0, 0] = filled[-1, -1, -1] = True
    part = voxel_solid(filled)
    used = np.argwhere(filled).min(axis=0)
    low = np.array([0.0, 0.0, used[2]])
    runs = cast(part.vertices - low, part.faces, topology(part).skin_of_face, 1.0, tight=False)
    tree = join_tree(runs)
    label, _ = ndimage.label(np.pad(~filled, 1, constant_values=True))
    free = np.argwhere(~filled)
    run = runs.run_at(free + 0.5 - low)
    found = tree.component[tree.branch_of_run[run]]
    expected = label[tuple((free + 1).T)]
    np.testing.assert_array_equal(found == 0, expected == label[0, 0, 0])
    # One to one: as many pairs as there are components on either side.
    assert len(set(zip(found, expected, strict=True))) == len(set(found)) == len(set(expected))


@given(st.lists(st.integers(0, 9), min_size=1, max_size=30), st.sampled_from([0.3, 0.5, 1.0, 2.0]))
def test_the_curve_and_the_volumes_hold_the_trapped_rain(heights: list[int], step: float) -> None:
    """Rain on a row of hills: each column holds up to the lower of the highest hills on its two sides."""
    h = np.array(heights)
    level = np.minimum(np.maximum.accumulate(h), np.maximum.accumulate(h[::-1])[::-1])
    tree = join_tree(profile([float(x) for x in heights]))
    pieces = sealed_pieces(tree, np.zeros(tree.n_branches, np.int32), 1, 10.0, step)
    assert pieces.volume.sum() == pytest.approx(float((level - h).sum()))
    assert pieces.curves[0].sum() * step == pytest.approx(float((level - h).sum()))
    expected = [((level > a) & (h <= a)).sum() for a in range(10)]
    if step == 1.0:
        np.testing.assert_allclose(pieces.curves[0], expected)
    assert (pieces.curves >= 0).all()
