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


def test_legs_that_meet_end_to_end_are_found_however_small_a_share_of_the_common_box_they_fill() -> None:
    """Two tables, foot on foot: all that they share are four pieces of 0.2 x 0.2 x 0.1 mm in a box of 20 x 20 x 0.1."""
    feet = [(x, y) for x in (0.0, 19.8) for y in (0.0, 19.8)]
    tables = [
        bodies.union(
            bodies.block((0, 0, top), (20, 20, top + 1)),
            *(bodies.block((x, y, low), (x + 0.2, y + 0.2, high)) for x, y in feet),
        )
        for top, low, high in ((0.0, 1.0, 5.1), (9.0, 5.0, 9.0))
    ]
    done = mend(bodies.moved(bodies.solid(*tables), bodies.rotation(2)))
    assert done.solid.volume == pytest.approx(sum(table.volume for table in tables) - 4 * 0.2 * 0.2 * 0.1, rel=1e-6)
    assert topology(done.solid).n_skins == 1
    assert [(one.step, one.count) for one in done.records] == [("unite", 2)]


@pytest.mark.parametrize(("top", "side"), [(10.0, (2, 8)), (15.0, (0, 10))])
@pytest.mark.parametrize("seed", [None, 3])
def test_a_cavity_that_ends_flush_with_the_skin_or_runs_out_of_it_flush_opens_it(
    top: float, side: tuple[int, int], seed: int | None
) -> None:
    low, high = side
    part = bodies.solid(CUBE, bodies.inward(bodies.block((low, low, 5), (high, high, top))))
    part = part if seed is None else bodies.moved(part, bodies.rotation(seed))
    done = mend(part)
    assert done.solid.volume == pytest.approx(1000.0 - 5.0 * (high - low) ** 2, rel=1e-4)
    found = topology(done.solid)
    assert (found.n_skins, found.is_closed) == (1, True)
    assert [(one.step, one.count) for one in done.records] == [("unite", 1)]
    assert "no wall between" in done.records[0].what
