"""The sweep after a drill, renewed from the one before it, gives the tree that a sweep from the beginning gives."""

from __future__ import annotations

import numpy as np
from bodies import voxel_solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.geometry.columns import Runs, Tool, cast, drilled
from ventplanner.geometry.join_tree import Rise, join_tree
from ventplanner.geometry.topology import topology

place = st.tuples(*[st.floats(-1.0, 7.0)] * 3)
TREE = ("branch_of_run", "birth", "parent", "merge", "merge_run", "opens", "component")


def sponge(seed: int, share: float) -> Runs:
    """A block of cubes with random holes: many runs start at the same height."""
    solid = voxel_solid(np.random.default_rng(seed).random((7, 6, 6)) < share)
    found = topology(solid)
    return cast(solid.vertices, solid.faces, found.skin_of_face, 0.5, tight=found.is_closed)


@given(
    st.integers(0, 40),
    st.sampled_from([0.3, 0.6, 0.85]),
    st.lists(st.tuples(place, place, st.floats(0.1, 2.0)), max_size=3),
    st.booleans(),
)
@settings(max_examples=150, deadline=None)
def test_a_renewed_sweep_gives_the_same_tree(seed: int, share: float, holes: list[tuple], on_plate: bool) -> None:
    before = sponge(seed, share)
    after = drilled(before, tuple(Tool(start, end, radius) for start, end, radius in holes if start != end))
    if on_plate:
        before, after = before.on_plate(0.1), after.on_plate(0.1)
    renewed, whole = join_tree(after, Rise.of(before).renewed(after)), join_tree(after)
    for name in TREE:
        assert np.array_equal(getattr(renewed, name), getattr(whole, name)), name


def test_most_of_the_outside_is_no_event() -> None:
    runs = sponge(1, 0.97)
    assert len(Rise.of(runs).renewed(runs).order) < 0.8 * len(Rise.of(runs).order)
