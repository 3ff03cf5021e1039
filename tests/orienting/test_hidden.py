"""How much holes are seen, coarsely: of a box each side is seen by the views that it faces."""

from __future__ import annotations

import bodies
import numpy as np
import pytest

from ventplanner.analysis.findings import analyse
from ventplanner.options import AnalysisOptions, VentRules
from ventplanner.orienting.hidden import Hidden
from ventplanner.plan.views import COARSE_RINGS, Views

BOX = bodies.solid(bodies.box(20.0), bodies.inward(bodies.box(14.0)))


def test_a_hole_is_seen_from_where_the_nearest_side_looks_and_several_count_together() -> None:
    findings = analyse(BOX, options=AnalysisOptions(pitch_mm=0.6))
    hidden, views = Hidden.of(findings, VentRules()), Views.of(findings.scene.frame, None, COARSE_RINGS)
    middle = findings.scene.frame.to_build(np.zeros((1, 3)))[0]
    right, top, bottom = (middle + 6.5 * np.array(way) for way in ((1, 0, 0), (0, 0, 1), (0, 0, -1)))
    from_right, from_above = (views.directions[:, k] > 1e-9 for k in (0, 2))
    share = views.share
    assert hidden.of_holes(np.array([right])) == pytest.approx(share[from_right].sum())
    assert hidden.of_holes(np.array([right, top])) == pytest.approx(share[from_right | from_above].sum())
    assert hidden.of_holes(np.array([bottom])) < 0.1  # hardly anybody looks from below
    assert hidden.of_holes(np.zeros((0, 3))) == 0.0


def test_of_a_part_that_is_looked_at_from_one_side_a_hole_in_its_back_is_not_seen() -> None:
    findings = analyse(BOX, options=AnalysisOptions(pitch_mm=0.6))
    hidden = Hidden.of(findings, VentRules(seen_from=(0.0, -1.0, 0.0)))
    middle = findings.scene.frame.to_build(np.zeros((1, 3)))[0]
    front, back = (middle + 6.5 * np.array((0, y, 0)) for y in (-1.0, 1.0))
    assert hidden.of_holes(np.array([back])) == pytest.approx(0.0, abs=1e-9)
    assert hidden.of_holes(np.array([front, back])) == pytest.approx(1.0)
