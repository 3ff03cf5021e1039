"""The search for a plan: what it does not try, and what it tries once more at the end."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import box, cut, rod, solid
from trimesh.transformations import rotation_matrix

from ventplanner.analysis.findings import analyse
from ventplanner.draining.bath import Bath
from ventplanner.draining.planning import drain, follow
from ventplanner.options import AnalysisOptions
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile

FINE = AnalysisOptions(pitch_mm=0.4)


def test_a_cavity_that_gets_no_air_however_it_is_held_is_not_turned(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two holes of 2 mm hold back 13 mm of this resin: 6 mm apart they never let air in, 16 mm apart they do."""
    turns = []
    turned = Bath.turned
    monkeypatch.setattr(Bath, "turned", lambda self, *a: turns.append(a) or turned(self, *a))
    for apart, airless in ((6.0, True), (16.0, False)):
        holes = (rod((x, 0.0, 9.0), (x, 0.0, 13.0), 1.0) for x in (-0.5 * apart, 0.5 * apart))
        findings = analyse(solid(cut(box(24.0), box(20.0), *holes)), options=FINE)
        turns.clear()
        done = drain(findings, Plan(), Profile())
        assert bool(done.bath.airless) == airless
        assert bool(turns) != airless
        assert (done.left > 0.99 * done.full) == airless


def test_the_last_turn_is_tried_a_little_differently() -> None:
    """A chamber that leans in its part by 10 degrees, with a hole in the middle of one side, along a file's axis:
    only with that side level all of it runs out. It is none of the directions that are looked at first."""
    chamber = box(20.0)
    chamber.apply_transform(rotation_matrix(np.radians(10.0), (0.0, 0.6, -0.8)))
    body = cut(box(32.0), chamber, rod((7.0, 0.0, 0.0), (18.0, 0.0, 0.0), 2.5))
    findings = analyse(solid(body), options=AnalysisOptions(pitch_mm=0.5))
    done = drain(findings, Plan(), Profile())
    rough = follow(findings, done.bath, [np.array([-1.0, 0.0, 0.0])], Profile())
    assert rough.left > 50.0
    assert done.left < 5.0
