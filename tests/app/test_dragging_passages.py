"""A passage put elsewhere by hand: what is told of it is measured anew, and a refusal points at what is in the way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bodies import box, inward, solid
from hollow_parts import keel, keel_skins

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app.dragging_passages import WHOLE, blank, laid, moved
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.support_file import Supports
from ventplanner.geometry.topology import topology
from ventplanner.options import VentRules
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Passage, Plan
from ventplanner.plan.passage_places import also_met
from ventplanner.plan.placement import propose
from ventplanner.plan.refusal import place_of_refusal
from ventplanner.plan.verification import compare

RULES = VentRules(passages="auto", longest_wall_mm=8.0)


@pytest.fixture(name="findings", scope="module")
def findings_() -> Findings:
    return analyse(keel())


@pytest.fixture(name="plan", scope="module")
def plan_(findings: Findings) -> Plan:
    plan = propose(findings, RULES)
    assert len(plan.passages) == 1
    return plan


def build(findings: Findings, *point: float) -> np.ndarray:
    return findings.scene.frame.to_build(np.array(point))


def there(findings: Findings, found: Passage | str) -> np.ndarray:
    """Where a refusal points, in the file's axes; its words tell the same place."""
    at = place_of_refusal(found)
    assert at is not None, found
    place = findings.scene.frame.to_file(at)
    assert ", ".join(f"{x:.1f}" for x in place) in str(found)
    return place


def test_an_end_goes_where_it_is_put_and_the_material_round_it_is_measured_anew(findings: Findings, plan: Plan) -> None:
    (passage,) = plan.passages
    found = moved(findings, plan, passage, 0, build(findings, 2.0, 2.0, -3.5), RULES)
    assert isinstance(found, Passage)
    assert (found.cavity, found.to) == ("B", "A")
    assert found.points_mm[0] == pytest.approx((2.0, 2.0, -3.5), abs=1e-6)
    assert found.points_mm[1] == pytest.approx(passage.points_mm[1], abs=1e-6)
    # Nothing but the two hollows and the hull 54 mm cubed is there.
    assert found.clearance_mm > 15.0
    drilled = drill(findings.part, Plan(passages=(found,))).solid
    assert compare(findings.part, drilled, Plan(passages=(found,))) == ()
    assert topology(drilled).euler == topology(findings.part).euler - 2


def test_it_is_moved_as_a_whole_and_laid_anew(findings: Findings, plan: Plan) -> None:
    (passage,) = plan.passages
    ends = np.array(passage.points_mm)
    goal = ends.mean(axis=0) + np.array([1.0, 0.0, 3.0])
    found = moved(findings, plan, passage, WHOLE, build(findings, *goal), RULES)
    assert isinstance(found, Passage)
    assert np.array(found.points_mm) == pytest.approx(ends + np.array([1.0, 0.0, 3.0]), abs=1e-6)
    stops = np.array([build(findings, 1.0, 2.0, 3.0), build(findings, 1.0, -3.0, 3.0)])
    new = laid(findings, plan.without_passage(passage.id), blank("P7", 2.0), stops, RULES)
    assert isinstance(new, Passage)
    assert (new.id, new.cavity, new.to, new.length_mm) == ("P7", "B", "A", pytest.approx(5.0))


def test_each_refusal_points_at_what_is_in_the_way(findings: Findings, plan: Plan) -> None:
    (passage,) = plan.passages
    # Into the thick of the material behind B: no hollow there.
    nowhere = moved(findings, plan, passage, 1, build(findings, 0.0, 40.0, 0.0), RULES)
    assert "hollow" in str(nowhere) or "wall" in str(nowhere)
    there(findings, nowhere)
    # Beside the other one, in the middle of the ligament that is missing.
    second = replace(passage, id="P2")
    beside = moved(findings, plan.with_passage(second), passage, 0, build(findings, *passage.points_mm[0]), RULES)
    assert str(beside).startswith("it would come too near another hole")
    there(findings, beside)
    # A surface of A that is kept clear, where it would end.
    part = findings.part
    corners = part.vertices[part.faces]
    front = np.isclose(corners[:, :, 1], -3.0).all(axis=1)
    kept = findings.keeping_clear(FaceMask.of(front))
    clear = moved(kept, plan, passage, 0, build(findings, 1.0, 2.0, -3.5), RULES)
    assert str(clear).startswith("it would cut a surface that is to be kept clear")
    assert there(findings, clear)[1] == pytest.approx(-3.0)


def test_too_little_material_points_at_the_nearest_wall() -> None:
    # A third hollow 0.7 mm beside the straight way from B to A.
    part = solid(*keel_skins(), inward(box((2.0, 2.0, 2.0), (3.2, -0.5, 0.0))))
    findings = analyse(part)
    stops = np.array([build(findings, 0.0, 2.0, 0.0), build(findings, 0.0, -3.0, 0.0)])
    found = laid(findings, Plan(), blank("P1", 3.0), stops, RULES)
    assert str(found).startswith("too little material")
    assert there(findings, found) == pytest.approx((2.2, -0.5, 0.0), abs=1.0)
    assert there(findings, found)[0] == pytest.approx(2.2)


def test_what_a_hole_would_open_beside_its_wall_is_found(findings: Findings, plan: Plan) -> None:
    (passage,) = plan.passages
    # A slit that the drill cuts with its flank.
    slit = box(
        (0.3, 1.0, 0.3), tuple(np.array(passage.points_mm).mean(axis=0) + np.array([passage.radius_mm, 0.0, 0.0]))
    )
    part = solid(*keel_skins(), inward(slit))
    at = also_met(analyse(part), passage.legs)
    assert at is not None
    place = findings.scene.frame.to_file(at)
    low, high = np.asarray(slit.bounds)
    assert (place >= low - 1e-6).all()
    assert (place <= high + 1e-6).all()


def test_a_bent_passage_keeps_off_supports_of_a_second_file(findings: Findings, plan: Plan) -> None:
    (passage,) = plan.passages
    stake = solid(box((0.4, 0.4, 4.0), (1.0, -0.5, 1.0)))
    minding = findings.with_supports(Supports("stake.stl", stake.digest, stake))
    bent = replace(passage, points_mm=((0.0, 2.0, 0.0), (1.0, -0.5, 1.0), (0.0, -3.0, 0.0)))
    stops = np.array([build(findings, *p) for p in bent.points_mm])
    assert isinstance(laid(findings, Plan(), replace(bent, diameter_mm=1.0), stops, RULES), Passage)
    found = laid(minding, Plan(), replace(bent, diameter_mm=1.0), stops, RULES)
    assert str(found).startswith("it would touch a support")
    there(findings, found)
