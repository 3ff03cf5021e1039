"""Cavities keep their names, and stay listed, once they are drilled."""

from __future__ import annotations

from dataclasses import replace

import bodies as b
import numpy as np
import pytest

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.io.report import left_after
from ventplanner.options import AnalysisOptions, VentRules
from ventplanner.plan.carried import carried_over
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose
from ventplanner.plan.second_look import look_again


def before_and_after(
    part: Solid, plan: Plan | None = None, pose: Pose | None = None
) -> tuple[Findings, Plan, Findings]:
    before = analyse(part, pose, AnalysisOptions(pitch_mm=0.25))
    plan = propose(before) if plan is None else plan
    return before, plan, carried_over(before, look_again(before, plan, drill(before.part, plan).solid).after, plan)


def told(found: Findings) -> list[tuple[str, str, list[str]]]:
    return [(c.id, c.state, [cup.id for cup in c.cups]) for c in found.cavities]


JACKET = (b.inward(b.box(24.0)), b.box(20.0), b.inward(b.box(16.0)))
"""A jacket 2 mm wide round a thick-walled box, whose hollow is another cavity: all vents are wider than the jacket."""


def test_a_jacket_narrower_than_its_vents_stays_listed_with_its_volume_and_its_openings() -> None:
    before, plan, after = before_and_after(b.solid(b.box(28.0), *JACKET[:2]))
    assert told(before) == [("A", "sealed", ["A1"])]
    assert len(plan.vents) == 2
    assert told(after) == [("A", "breathing", [])]
    (cavity,) = after.cavities
    assert cavity.volume == before.cavities[0].volume == pytest.approx(24.0**3 - 20.0**3, rel=1e-3)
    assert [o.width for o in cavity.openings] == pytest.approx([2.5, 2.5], abs=0.6)
    np.testing.assert_allclose(cavity.bounds[:, :2], [[-12, -12], [12, 12]], atol=2.0)
    entries = [np.array(v.entry_mm) for v in plan.vents]
    for opening in cavity.openings:
        at = after.scene.frame.to_file(opening.at)
        assert min(float(np.linalg.norm(at - e)) for e in entries) < 3.0


def test_what_was_left_closed_keeps_its_name_beside_a_drilled_one() -> None:
    part = b.solid(b.box(28.0), *JACKET)
    both = propose(analyse(part, options=AnalysisOptions(pitch_mm=0.25)))
    only_a = replace(both, vents=tuple(v for v in both.vents if v.cavity == "A"), missing=(), left_alone=())
    before, _, after = before_and_after(part, only_a)
    assert told(before) == [("A", "sealed", ["A1"]), ("B", "sealed", ["B1"])]
    assert told(after) == [("A", "breathing", []), ("B", "sealed", ["B1"])]
    assert left_after(only_a, after) == ("Cavity B is sealed from 6.0 mm up and has no way out.",)
    assert left_after(replace(only_a, left_alone=(("B", "a float"),)), after) == (
        "Cavity B is left as it is: a float.",
    )


def test_a_bowl_that_was_drilled_is_listed_with_its_mouth_and_its_vent() -> None:
    bowl = b.solid(b.cut(b.box(20.0), b.box((16, 16, 20), (0, 0, 4))))
    before, plan, after = before_and_after(bowl)
    assert (told(before), len(plan.vents)) == ([("A", "late", ["A1"])], 1)
    assert told(after) == [("A", "breathing", [])]
    (cavity,) = after.cavities
    assert cavity.volume == before.cavities[0].volume
    assert [o.width for o in cavity.openings] == pytest.approx([16.0, 2.5], abs=0.5)


def test_a_part_that_was_not_drilled_has_the_same_list_as_before() -> None:
    part = b.solid(b.box(28.0), *JACKET)
    before, _, after = before_and_after(part, Plan())
    assert told(after) == told(before)
    assert [c.volume for c in after.cavities] == pytest.approx([c.volume for c in before.cavities], rel=1e-3)


def test_the_bulbs_of_an_hour_glass_stay_one_cavity() -> None:
    bulbs = b.union(b.ball(7, (0, 0, -8)), b.ball(7, (0, 0, 8)), b.rod((0, 0, -8), (0, 0, 8), 1.0))
    before, plan, after = before_and_after(b.solid(b.box((20, 20, 36)), b.inward(bulbs)))
    assert told(before)[0][:2] == ("A", "sealed")
    assert len(plan.vents) >= 1
    assert told(after) == [("A", "breathing", [])]
    assert after.cavities[0].volume == pytest.approx(before.cavities[0].volume, rel=0.02)
    assert len(after.cavities[0].openings) == len(plan.vents)


def test_a_late_cup_that_is_left_has_its_own_number_still() -> None:
    lobes = b.union(b.ball(6, (-8, 0, 0)), b.ball(6, (8, 0, 0)), b.rod((-8, 0, 2), (8, 0, 2), 2))
    before = analyse(b.solid(b.box((40, 20, 20)), b.inward(lobes)), options=AnalysisOptions(pitch_mm=0.25))
    plan = propose(before, VentRules(vents_per_cavity=1))
    assert [c.id for c in before.cavities[0].cups] == ["A1", "A2"]
    only = replace(plan, vents=tuple(v for v in plan.vents if v.cup == "A1"))
    assert len(only.vents) == 1
    after = carried_over(before, look_again(before, only, drill(before.part, only).solid).after, only)
    assert told(after) == [("A", "late", ["A2"])]


def test_crumbs_that_only_the_other_grid_sees_are_not_listed_but_what_is_closed_is() -> None:
    part = b.solid(b.box((60, 20, 20)), b.inward(b.box(14, (-20, 0, 0))), b.inward(b.box(1.725, (0, 0, 0))))
    before = analyse(part, options=AnalysisOptions(pitch_mm=0.25, ignore_below_mm3=5.2))
    again = analyse(part, options=AnalysisOptions(pitch_mm=0.25, ignore_below_mm3=5.0), shift=0.5)
    assert (len(before.cavities), len(again.cavities)) == (1, 2)
    assert [c.id for c in carried_over(before, again, Plan()).cavities] == ["A"]
    more = analyse(b.solid(b.box((60, 20, 20)), *(b.inward(b.box(14, (x, 0, 0))) for x in (-20, 20))), shift=0.5)
    assert told(carried_over(before, more, Plan())) == [("A", "sealed", ["A1"]), ("B", "sealed", ["B1"])]


def test_a_vent_into_the_neck_of_a_bottle_is_one_of_its_openings() -> None:
    bottle = b.cut(b.box((20, 20, 30)), b.union(b.box(16, (0, 0, 5)), b.rod((0, 0, -20), (0, 0, 0), 2)))
    before, plan, after = before_and_after(b.solid(bottle), pose=Pose(on="plate"))
    assert told(before) == [("A", "sealed", ["A1"])]
    assert [o.width for o in before.cavities[0].openings] == pytest.approx([4.0], abs=0.1)
    assert len(plan.vents) >= 1
    assert after.cavities[0].state == "breathing"
    widths = sorted([4.0, *(v.diameter_mm for v in plan.vents)], reverse=True)
    assert [o.width for o in after.cavities[0].openings] == pytest.approx(widths, abs=0.3)
