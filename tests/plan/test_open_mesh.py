"""On an irregular mesh every cup is served, as the drilled part shows when it is read, or left with a reason that a
search of every way confirms. More poses: `tests/open_mesh_vents.py`."""

from __future__ import annotations

import pytest
from open_mesh_vents import cow, placed

from ventplanner.geometry.pose import Pose
from ventplanner.options import VentRules


def test_every_cup_of_the_cow_is_served_where_walls_allow_it() -> None:
    found = placed(cow(), Pose((0.9, 0.2, -0.4)), VentRules(passages="auto"))
    assert found.cups >= 1
    assert (found.served, found.left) == (found.cups, ())


@pytest.mark.long
def test_where_every_wall_is_too_thick_what_is_left_has_no_way_out() -> None:
    found = placed(cow(), Pose(), VentRules(passages="auto", longest_wall_mm=2.2))
    assert found.served == 0
    assert len(found.left) == found.cups >= 1
    assert all(ways == 0 for _, ways in found.left)
