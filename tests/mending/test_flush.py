"""Bodies that share material while all their faces are flush: volumes are those of boxes, or Manifold's."""

from __future__ import annotations

import bodies
import numpy as np
import pytest
import trimesh

from ventplanner.app.uniting import united
from ventplanner.geometry.topology import topology
from ventplanner.mending.mend import mend

CUBE = bodies.block((0, 0, 0), (10, 10, 10))
BESIDE = bodies.block((6, 0, 0), (16, 10, 10))
SINKER = bodies.inward(bodies.block((2, 2, 2), (5, 8, 8)))


@pytest.mark.parametrize("seed", [None, 1, 2])
def test_cubes_moved_along_one_axis_become_one(seed: int | None) -> None:
    part = bodies.solid(CUBE, BESIDE)
    part = part if seed is None else bodies.moved(part, bodies.rotation(seed), (3.0, -2.0, 7.0))
    done = mend(part)
    assert done.solid.volume == pytest.approx(1600.0, rel=1e-4)
    assert topology(done.solid).n_skins == 1
    assert [(one.step, one.count) for one in done.records] == [("unite", 2)]
    assert united(part)[0].volume == done.solid.volume


def test_cavities_of_such_bodies_stay_and_both_kinds_of_overlap_are_told_apart() -> None:
    crossing = bodies.ball(3.0, (16.0, 5.1, 5.2))
    done = mend(bodies.solid(CUBE, SINKER, BESIDE, crossing))
    meant = bodies.union(bodies.cut(CUBE, bodies.block((2, 2, 2), (5, 8, 8))), BESIDE, crossing)
    assert done.solid.volume == pytest.approx(meant.volume, rel=1e-6)
    assert topology(done.solid).n_skins == 2
    assert [(one.step, one.count) for one in done.records] == [("unite", 2), ("unite", 1)]


def test_three_in_a_row_and_one_in_a_corner_become_one() -> None:
    row = [bodies.block((x, 0, 0), (x + 5, 4, 4)) for x in (0, 3, 6)]
    corner = bodies.block((0, 0, 0), (2, 2, 9))
    done = mend(bodies.solid(*row, corner))
    assert done.solid.volume == pytest.approx(11 * 16 + 4 * 5, rel=1e-9)
    assert topology(done.solid).n_skins == 1


@pytest.mark.parametrize(
    "other",
    [
        bodies.block((10, 0, 0), (20, 10, 10)),
        bodies.block((10, 10, 0), (20, 20, 10)),
        bodies.block((10.001, 0, 0), (20, 10, 10)),
        bodies.block((2.5, 2.5, 2.5), (4.5, 7.5, 7.5)),
    ],
)
@pytest.mark.parametrize("seed", [None, 3])
def test_bodies_that_only_touch_or_lie_in_a_cavity_stay_as_they_are(other: trimesh.Trimesh, seed: int | None) -> None:
    part = bodies.solid(CUBE, SINKER, other)
    part = part if seed is None else bodies.moved(part, bodies.rotation(seed))
    done = mend(part)
    assert not done.records
    assert np.array_equal(done.solid.vertices, part.vertices)
