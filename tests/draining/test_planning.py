"""The pour plan on bodies whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import box, cut, rod, solid

from ventplanner.analysis.findings import analyse
from ventplanner.draining.planning import drain
from ventplanner.geometry.pose import Pose
from ventplanner.options import AnalysisOptions
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile

FINE = AnalysisOptions(pitch_mm=0.4)


def test_a_part_without_a_hollow_has_nothing_to_drain() -> None:
    done = drain(analyse(solid(box(10.0)), options=FINE), Plan(), Profile())
    assert [step.how for step in done.steps] == ["hanging", "taken off"]
    assert (done.full, done.left, done.film, done.left_where) == (0.0, 0.0, 0.0, ())


def test_a_box_with_two_holes_at_the_side_drains_once_it_is_turned_on_that_side() -> None:
    """Two holes of 4 mm in the right wall: hanging, what lies below the lower one stays; then nothing does."""
    hollow = cut(box(24.0), box(20.0), *(rod((9.0, 0.0, z), (13.0, 0.0, z), 2.0) for z in (-7.0, 7.0)))
    findings = analyse(solid(hollow), Pose(on="supports"), FINE)
    done = drain(findings, Plan(), Profile())
    hanging, off, turn = done.steps
    assert hanging.gravity == pytest.approx((0.0, 0.0, 1.0))
    # Hanging, up is -z: from the lip of the lower hole (z = 9) to the floor at z = 10.
    assert hanging.left == off.left == pytest.approx(20.0 * 20.0 * 1.0, rel=0.05)
    assert np.asarray(turn.gravity) @ (1.0, 0.0, 0.0) > 0.5
    assert done.left < 5.0 < done.at_most
    assert [(ran.cavity, ran.to) for ran in turn.ran] == [("A", "")]
    for before, step in zip(done.steps, done.steps[1:], strict=False):
        assert step.left + step.out == pytest.approx(before.left, abs=1e-6)


def test_a_cavity_with_one_small_hole_keeps_everything_and_one_with_a_wide_one_does_not() -> None:
    """Below 1.84 capillary lengths (3.3 mm of this resin) no air gets in: Bretherton 1961, J. Fluid Mech. 10, 166."""
    kept = []
    for radius in (1.2, 8.0):
        hollow = cut(box(24.0), box(20.0), rod((0.0, 0.0, 9.0), (0.0, 0.0, 13.0), radius))
        done = drain(analyse(solid(hollow), options=FINE), Plan(), Profile())
        kept.append(done.left)
        if radius < 2.0:
            assert {left.why for left in done.left_where} == {"no air"}
    assert kept == [pytest.approx(8000.0, rel=0.02), pytest.approx(0.0, abs=1.0)]
