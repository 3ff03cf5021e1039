"""What of the inside is reached in a straight line, and blind pockets, on a body whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import block, cut, rod, solid, union

from ventplanner.analysis.findings import analyse
from ventplanner.draining.planning import drain
from ventplanner.draining.reaching import reached
from ventplanner.options import AnalysisOptions
from ventplanner.physics.soaking import remaining
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile


def test_each_blind_arm_is_a_pocket_of_its_own() -> None:
    """A shaft from hole to hole with an arm of 18 mm to one side and one of 10 mm to the other, both out of sight."""
    shaft, arms = block((-4, -4, -12), (4, 4, 12)), (block((3, -4, -4), (22, 4, 4)), block((-14, -4, -4), (-3, 4, 4)))
    holes = (rod((0, 0, z), (0, 0, z + 6.0), 2.0) for z in (-17.0, 11.0))
    body = cut(block((-26, -8, -16), (26, 8, 16)), union(shaft, *arms), *holes)
    findings = analyse(solid(body), options=AnalysisOptions(pitch_mm=0.5))
    (inside,) = reached(findings, drain(findings, Plan(), Profile()))
    long, short = inside.pockets
    assert long.at_mm[0] == pytest.approx(22.0, abs=2.1)  # within the last cell
    assert short.at_mm[0] == pytest.approx(-14.0, abs=2.1)
    # From the far wall's corner to the middle of the shaft, in steps along edges and diagonals of cells.
    assert long.depth_mm == pytest.approx(np.hypot(22.0, 4.0), rel=0.1)
    assert short.depth_mm == pytest.approx(np.hypot(14.0, 4.0), rel=0.1)
    for pocket in inside.pockets:
        left = remaining(0.001 * pocket.depth_mm, pocket.soak_s)
        assert left == pytest.approx(0.01, rel=1e-3)
    assert 0.2 < inside.share < 0.8
