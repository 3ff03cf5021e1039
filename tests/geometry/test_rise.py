"""The order of the sweep after a drill, renewed from the order before it, is the one that sorting gives."""

from __future__ import annotations

import numpy as np
from bodies import voxel_solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.geometry.columns import Runs, Tool, cast, drilled
from ventplanner.geometry.join_tree import Rise
from ventplanner.geometry.topology import topology

place = st.tuples(*[st.floats(-1.0, 7.0)] * 3)


def sponge(seed: int) -> Runs:
    """A block of cubes with random holes: many runs start at the same height."""
    rng = np.random.default_rng(seed)
    solid = voxel_solid(rng.random((6, 6, 6)) < 0.6)
    found = topology(solid)
    return cast(solid.vertices, solid.faces, found.skin_of_face, 0.5, tight=found.is_closed)


@given(st.integers(0, 20), st.lists(st.tuples(place, place, st.floats(0.1, 2.0)), max_size=3), st.booleans())
@settings(max_examples=80, deadline=None)
def test_a_renewed_order_is_the_sorted_one(seed: int, holes: list[tuple], on_plate: bool) -> None:
    before = sponge(seed)
    after = drilled(before, tuple(Tool(start, end, radius) for start, end, radius in holes if start != end))
    if on_plate:
        before, after = before.on_plate(0.1), after.on_plate(0.1)
    renewed = Rise.of(before).renewed(after)
    assert renewed.runs is after
    assert np.array_equal(renewed.order, Rise.of(after).order)
