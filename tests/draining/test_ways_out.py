"""What lets liquid out: passages to another cavity, slits that stand or lie, slots that are planned."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bodies import block, box, cut, solid
from hollow_parts import found, keel, proposed

from ventplanner.analysis.findings import analyse
from ventplanner.draining.mouths import mouths_of
from ventplanner.draining.planning import baths_of, hold
from ventplanner.geometry.outline import Outline
from ventplanner.options import AnalysisOptions, VentRules
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose
from ventplanner.profile import Profile

RESIN = Profile()
DOWN, ASIDE = np.array([0.0, 0.0, -1.0]), np.array([1.0, 0.0, 0.0])


def test_what_is_behind_a_passage_runs_through_the_other_cavity_if_the_passage_lets_air_in() -> None:
    """B, 8 x 8 x 10 mm, has no way out but a passage at its bottom. Alone it must be wider than 1.84 capillary lengths,
    3.3 mm (Bretherton 1961, J. Fluid Mech. 10, 166)."""
    findings = analyse(keel(), options=AnalysisOptions(pitch_mm=0.5))
    plan = propose(findings, VentRules(passages="auto", longest_wall_mm=8.0))
    (passage,) = plan.passages
    assert passage.diameter_mm < 3.0
    turns = [DOWN, -DOWN]
    shut = hold(findings, baths_of(findings, plan, RESIN)[1], turns, RESIN)
    (kept,) = [left for left in shut.left_where if left.cavity == "B"]
    assert (kept.why, kept.volume) == ("no air", pytest.approx(640.0, rel=0.02))
    wider = replace(plan, passages=(replace(passage, diameter_mm=5.0),))
    done = hold(findings, baths_of(findings, wider, RESIN)[1], turns, RESIN)
    through = [ran for step in done.steps for ran in step.ran if ran.cavity == "B"]
    assert {(ran.through, ran.to) for ran in through} == {(passage.id, "A")}
    assert sum(ran.volume for ran in through) == pytest.approx(640.0, rel=0.02)
    assert sum(step.out for step in done.steps) + done.left == pytest.approx(done.full, abs=1e-6)
    assert sum(left.volume for left in done.left_where if left.cavity == "B") < 5.0


@pytest.mark.parametrize(("sides", "up", "air"), [
    ((3.0, 3.0), DOWN, "held"),  # 3 mm are 1.67 capillary lengths of this resin
    ((12.0, 3.0), DOWN, "shake"),
    ((12.0, 3.0), ASIDE, "glugs"),
])  # fmt: skip
def test_a_slit_lets_air_in_where_a_square_of_its_width_does_not(
    sides: tuple[float, float], up: np.ndarray, air: str
) -> None:
    """Facing down an interface over 3 x 12 mm, pinned at the edge, is stable (Maxwell: pi^2 (4 / l^2 + 1 / w^2) l_c^2 =
    4.4 > 1) unless it is shaken. Where the slit stands upright its ends are 9 mm apart, and surface tension holds back
    4 sigma / (rho g) 2 / d with d = 4 area / rim = 5 mm: 5.2 mm."""
    half = 0.5 * sides[0], 0.5 * sides[1]
    slit = block((-half[0], -half[1], 9.0), (half[0], half[1], 13.0))
    findings = analyse(solid(cut(box(24.0), box(20.0), slit)), options=AnalysisOptions(pitch_mm=0.4))
    _, bath = baths_of(findings, Plan(), RESIN)
    (mouth,) = bath.doors.mouths
    assert mouth.long == pytest.approx(sides[0], abs=0.45)
    assert mouth.hydraulic == pytest.approx(5.0 if sides[0] > 6.0 else 3.0, abs=0.1)
    (step,) = hold(findings, bath, [up], RESIN).steps
    assert step.air == (("A", air),)
    # Facing down all of it runs out; aside what is below the lower end stays, 4 mm of 20.
    kept = {"held": 8000.0, "shake": 0.0, "glugs": 1600.0}[air]
    assert step.left == pytest.approx(kept, abs=60.0)
    assert (0.0 < step.wait_s < 1000.0) == (air != "held")


def test_a_planned_slot_is_a_slit_along_its_long_side() -> None:
    vent = proposed().vents[0]
    helper = np.eye(3)[int(np.argmin(np.abs(vent.axis)))]
    along = np.cross(vent.axis, helper)
    along /= np.linalg.norm(along)
    x, y, z = along.tolist()
    slot = replace(vent, outline=Outline("slot", 8.0, (x, y, z)))
    square = replace(vent, outline=Outline("square", 0.0, (x, y, z)))
    plan = replace(proposed(), vents=(slot,))
    (mouth,) = mouths_of(found(), plan)
    assert mouth.is_slit
    assert mouth.long == 8.0
    assert found().scene.frame.direction_to_file(mouth.along) == pytest.approx(along)
    assert mouth.rise(mouth.along) == pytest.approx(8.0 - vent.diameter_mm)
    (mouth,) = mouths_of(found(), replace(plan, vents=(square,)))
    assert not mouth.is_slit
    assert mouth.section.area == pytest.approx(1e-6 * vent.diameter_mm**2)
