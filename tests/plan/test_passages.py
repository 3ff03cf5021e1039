"""Passages inside a part: where they go, that they open nothing else, and what the cut makes of them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from bodies import block, box, cut, inward, rod, solid
from hollow_parts import keel

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.options import VentRules
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Passage, Plan
from ventplanner.plan.passage_search import Found, Search
from ventplanner.plan.passages import Nowhere, find_passage
from ventplanner.plan.placement import propose
from ventplanner.plan.reached import unreached
from ventplanner.plan.second_look import look_again
from ventplanner.plan.venting import holes_of, tools_of
from ventplanner.plan.verification import compare

AUTO = VentRules(passages="auto", longest_wall_mm=8.0)
OFF = replace(AUTO, passages="off")


def check(findings: Findings, plan: Plan) -> Solid:
    """Drill, and verify as an export does; the drilled part."""
    drilled = drill(findings.part, plan)
    assert compare(findings.part, drilled.solid, plan) == ()
    assert look_again(findings, plan, drilled.solid).differences == ()
    return drilled.solid


def search(findings: Findings, into: str, cup: str, rules: VentRules, vented: str) -> Search:
    """The search for one cup when only one cavity has its vents."""
    proposed = propose(findings, VentRules())
    plan = replace(proposed, vents=tuple(v for v in proposed.vents if v.cavity == vented), passages=())
    tools = tools_of(findings, plan)
    now = findings.scene.cups(tools)
    (start,) = (c.cup.start for c in findings.cavity(into).cups if c.id == cup)
    number = int(np.argmin([np.linalg.norm(c.start - start) for c in now.cups]))
    return Search(findings, now, number, into, cup, rules, tools)


@cache
def found_keel() -> Findings:
    return analyse(keel())


@cache
def joined_keel() -> Plan:
    return propose(found_keel(), AUTO)


def test_a_cavity_that_no_vent_reaches_is_joined_to_one_that_breathes() -> None:
    findings, plan = found_keel(), joined_keel()
    (passage,) = plan.passages
    assert (passage.cavity, passage.cup, passage.to) == ("B", "B1", "A")
    assert plan.missing == ()
    assert unreached(findings, plan) == ()
    # It begins at the start of the cup (z = -5) and leads through the 5 mm between the two (y from 2 to -3).
    (_, y, z), (_, y_end, z_end) = passage.points_mm
    assert (y, y_end) == pytest.approx((2.0, -3.0))
    assert -5.3 < z - passage.radius_mm < -4.7
    assert z_end < z + 0.1
    assert passage.length_mm == pytest.approx(np.hypot(5.0, np.linalg.norm(np.subtract(*passage.points_mm)[::2])))


def test_the_drilled_part_has_one_opening_for_each_vent_and_none_for_the_passage() -> None:
    findings, plan = found_keel(), joined_keel()
    after = topology(check(findings, plan))
    # Three spheres before. A and B become one with the outside; each hole beyond those two joins is a handle.
    assert after.euler == 6 - 2 * (len(plan.vents) + 1)
    assert after.n_skins == 1
    outside = found_keel().part.bounds
    corners = np.array([c for p in plan.passages for leg in p.legs for c in (leg.start_mm, leg.end_mm)])
    assert (corners > outside[0]).all()
    assert (corners < outside[1]).all()


def test_without_passages_the_one_that_would_help_is_told_and_nothing_else_changes() -> None:
    findings = found_keel()
    plan = propose(findings, OFF)
    assert plan.passages == ()
    (missing,) = plan.missing
    assert missing.cup == "B1"
    assert missing.join == joined_keel().passages[0]
    assert plan.vents == joined_keel().vents
    assert unreached(findings, plan) == ("B",)


def test_the_preview_and_the_flow_take_the_passage() -> None:
    findings, plan = found_keel(), joined_keel()
    states = [cup.state(findings.options) for cup in findings.scene.cups(tools_of(findings, plan)).cups]
    assert set(states) <= {"breathing"}
    assert [hole.name for hole in holes_of(plan, findings.scene.frame)] == [*(v.id for v in plan.vents), "P1"]


def test_a_passage_keeps_the_least_wall_or_is_refused() -> None:
    for wall in (0.8, 12.0, 24.0):
        plan = propose(found_keel(), replace(AUTO, passage_wall_mm=wall))
        assert all(p.clearance_mm >= wall for p in plan.passages)
        if not plan.passages:
            assert "mm are asked for" in plan.missing[0].no_join
    assert not plan.passages


def test_nothing_that_breathes_is_near_then_that_is_the_reason() -> None:
    shell = solid(box(40.0), inward(box(6.0)))
    (missing,) = propose(analyse(shell), AUTO).missing
    assert missing.join is None
    assert missing.no_join.startswith("no passage inside, because no free space inside the part within 8 mm")


@cache
def post() -> Solid:
    """A block with a closed chamber, in it a post with a blind hole from above (A2 in A)."""
    chamber, hole = block((-15, -15, -15), (15, 15, 15)), block((-4, -4, -9), (4, 4, 8.001))
    return solid(cut(cut(box(50.0), cut(chamber, block((-7, -7, -15), (7, 7, 8)))), hole))


def test_a_cup_inside_a_cavity_is_joined_to_the_rest_of_it() -> None:
    findings = analyse(post())
    plan = propose(findings, replace(AUTO, longest_wall_mm=15.0))
    (passage,) = plan.passages
    assert (passage.cup, passage.to) == ("A2", "A")
    assert passage.length_mm == pytest.approx(3.0, abs=0.4)  # the wall of the post
    assert {v.cup for v in plan.vents} == {"A1"}
    check(findings, plan)


def test_a_bent_passage_goes_where_no_straight_one_does() -> None:
    slot = box((40.0, 2.0, 200.0), (0.0, -3.0, 0.0))
    hull = cut(box((90.0, 60.0, 60.0)), slot)
    part = solid(hull, inward(box((50.0, 20.0, 20.0), (0.0, -18.0, 2.0))), inward(box((10, 10, 12), (0, 10, 0))))
    findings = analyse(part)
    # Vents into the slot would do; without them the way leads round it.
    one = search(findings, "B", "B1", VentRules(longest_wall_mm=30.0), "A")
    found = find_passage(one)
    assert isinstance(found, Found)
    passage = found.passage
    assert len(passage.points_mm) == 3
    assert [leg.id for leg in passage.legs] == ["P1a", "P1b"]
    assert passage.clearance_mm >= 0.8
    vents = tuple(v for v in propose(findings).vents if v.cavity == "A")
    plan = Plan(vents, passages=(passage,), part=findings.part.digest, pose=findings.pose, options=findings.options)
    assert topology(check(findings, plan)).euler == topology(findings.part).euler - 2 * len(plan.vents) - 2
    assert len(holes_of(plan, findings.scene.frame)) == len(plan.vents) + 1


def test_round_a_slot_that_is_too_wide_there_is_no_way() -> None:
    hull = cut(box((90.0, 60.0, 60.0)), box((86.0, 2.0, 200.0), (0.0, -3.0, 0.0)))
    part = solid(hull, inward(box((50.0, 20.0, 20.0), (0.0, -18.0, 2.0))), inward(box((10, 10, 12), (0, 10, 0))))
    assert isinstance(find_passage(search(analyse(part), "B", "B1", VentRules(longest_wall_mm=30.0), "A")), Nowhere)


def test_a_passage_never_leads_to_space_that_breathes_only_later() -> None:
    # A begins 6 mm above B: where B starts, there is nothing yet that breathes.
    part = solid(box(50.0), inward(box((40, 16, 10), (0, -11, 6))), inward(box((8, 8, 10), (0, 6, 0))))
    one = search(analyse(part), "A", "A1", replace(AUTO, longest_wall_mm=20.0), "B")
    found = find_passage(one)
    assert isinstance(found, Nowhere)


def test_the_search_is_deterministic() -> None:
    assert propose(found_keel(), AUTO).passages == joined_keel().passages


def test_the_legs_of_a_passage_cover_its_line() -> None:
    passage = Passage("P1", "B", "B1", "A", ((0, 0, 0), (10, 0, 0), (10, 8, 0)), 2.0, 1.0, 0.5, 0.25)
    second, first = passage.legs  # from the space it leads to on
    assert second.entry_mm == (10, 8, 0)
    assert first.exit_mm == (0, 0, 0)
    assert second.start_mm == pytest.approx((10, 8.5, 0))
    assert first.end_mm == pytest.approx((-0.25, 0, 0))
    # At right angles a mitre reaches one radius beyond the knee.
    assert second.end_mm == pytest.approx((10, -1, 0))
    assert first.start_mm == pytest.approx((11, 0, 0))
    assert passage.length_mm == pytest.approx(18.0)


def test_plans_take_and_lose_passages() -> None:
    one = Passage("P1", "B", "B1", "A", ((0, 0, 0), (1, 0, 0)), 2.0, 1.0, 0.5, 0.5)
    other = replace(one, id="P2")
    plan = Plan().with_passage(one).with_passage(other).with_passage(replace(one, diameter_mm=3.0))
    assert [(p.id, p.diameter_mm) for p in plan.passages] == [("P1", 3.0), ("P2", 2.0)]
    assert plan.without_passage("P1").passages == (other,)


def test_the_mouth_of_a_chamber_does_not_count_as_the_outside_of_a_cup_within() -> None:
    """A post with a blind hole in a chamber that is open by a neck: its passage stays inside."""
    neck = rod((0, 11, 10), (0, 11, 40), 3)
    chamber, hole = block((-15, -15, -15), (15, 15, 15)), block((-4, -4, -9), (4, 4, 8.001))
    body = cut(cut(cut(box(50.0), cut(chamber, block((-7, -7, -15), (7, 7, 8)))), hole), neck)
    findings = analyse(solid(body))
    plan = propose(findings, replace(AUTO, longest_wall_mm=15.0))
    assert [(p.cup, p.to) for p in plan.passages] == [("A2", "A")]
    check(findings, plan)
