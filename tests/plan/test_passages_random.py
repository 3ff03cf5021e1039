"""Passages in random parts, and against an exhaustive search: nothing unplanned opens, no wall is too thin."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from bodies import box, inward, solid
from hollow_parts import keel
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import analyse
from ventplanner.geometry.topology import topology
from ventplanner.options import VentRules
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Passage
from ventplanner.plan.passage_search import cost_of
from ventplanner.plan.placement import propose
from ventplanner.plan.reached import unreached
from ventplanner.plan.verification import compare

RULES = VentRules(passages="auto", longest_wall_mm=8.0)
HULL = 27.0
Box = tuple[np.ndarray, np.ndarray]


def apart(points: np.ndarray, other: Box) -> float:
    """Least distance of points outside a box (its middle, its half sides) to it."""
    return float(np.linalg.norm(np.maximum(np.abs(points - other[0]) - other[1], 0.0), axis=1).min())


def axis_of(passage: Passage) -> np.ndarray:
    """Points along the whole drill of a passage."""
    ends = [(np.array(leg.start_mm), np.array(leg.end_mm)) for leg in passage.legs]
    return np.concatenate([a + np.linspace(0.0, 1.0, 400)[:, None] * (b - a) for a, b in ends])


@settings(max_examples=4, deadline=None, derandomize=True)
@given(st.data())
def test_no_random_part_gets_an_opening_that_was_not_planned_or_a_wall_too_thin(data: st.DataObject) -> None:
    """A chamber near the skin, a keel deep inside, and a third hollow anywhere between or beside them."""

    def between(low: float, high: float) -> float:
        return data.draw(st.integers(0, 20)) / 20.0 * (high - low) + low

    boxes: list[Box] = [
        (np.array([0.0, -11.0, between(0.0, 4.0)]), np.array([20.0, 8.0, 9.0])),
        (np.array([between(-6.0, 6.0), between(4.0, 8.0), between(-2.0, 4.0)]), np.array([4.0, 3.5, 5.0])),
        (np.array([between(9.0, 14.0), between(4.0, 12.0), between(-6.0, 6.0)]), np.array([2.0, 3.0, 3.0])),
    ]
    if any((np.abs(a[0] - b[0]) < a[1] + b[1] + 0.6).all() for a, b in ((boxes[1], boxes[2]), (boxes[0], boxes[2]))):
        return
    part = solid(box(2.0 * HULL), *(inward(box(2.0 * half, middle)) for middle, half in boxes))
    findings = analyse(part)
    plan = propose(findings, RULES)
    drilled = drill(findings.part, plan)
    assert compare(findings.part, drilled.solid, plan) == ()
    # Every hole, vent or passage, joins two skins or adds a handle: the Euler number falls by 2 for each, no more.
    assert topology(drilled.solid).euler == topology(findings.part).euler - 2 * (len(plan.vents) + len(plan.passages))
    names = {c.id: np.argmin([np.linalg.norm(c.bounds.mean(axis=0) - b[0]) for b in boxes]) for c in findings.cavities}
    for passage in plan.passages:
        points, least = axis_of(passage), passage.radius_mm + RULES.passage_wall_mm
        assert HULL - np.abs(points).max() >= least
        joined = {names[passage.cavity], names[passage.to]}
        gaps = [apart(points, boxes[k]) for k in range(3) if k not in joined]
        assert min(gaps, default=np.inf) >= least
        outer = HULL - float(np.abs(points).max())
        assert passage.clearance_mm <= min([outer, *gaps]) - passage.radius_mm + 0.02
        assert passage.cup not in {m.cup for m in plan.missing}
    assert set(unreached(findings, plan)) == {m.cavity for m in plan.missing}
    assert all(m.cup for m in plan.missing)  # no passage is a cup itself


def test_the_search_is_as_good_as_an_exhaustive_one() -> None:
    """All passages of the keel on a fine grid: between the planes y = 2 and y = -3, from floors at -5 and -7."""
    findings = analyse(keel())
    (passage,) = propose(findings, RULES).passages
    start, end = (np.array(p) for p in passage.points_mm)

    def worth(a: np.ndarray, b: np.ndarray, clearance: float) -> float:
        length = float(np.linalg.norm(b - a))
        slope = float(np.arcsin(abs(b[2] - a[2]) / length))
        flat = np.sqrt(1.0 - ((b[2] - a[2]) / length) ** 2)
        lost = max(0.0, max(a[2], b[2]) - passage.radius_mm * flat + 5.0)
        return float(cost_of(length, lost, clearance, slope))

    radius = passage.radius_mm
    best = np.inf
    # Sunk by no more than is allowed at the start, and with its whole mouth over the floor of the chamber.
    for x, z, across, rise in product(
        np.linspace(-2.5, 2.5, 6), np.linspace(-3.9, -3.0, 10), np.linspace(-3.0, 3.0, 25), np.linspace(-2.0, 1.0, 61)
    ):
        if z + rise - radius > -7.0:
            best = min(best, worth(np.array([x, 2.0, z]), np.array([x + across, -3.0, z + rise]), HULL - 10.0))
    assert worth(start, end, passage.clearance_mm) <= best + 0.25


@pytest.mark.parametrize(("gap", "lower"), [(7.2, 2.0), (8.8, 2.0), (5.0, -4.0), (6.0, -0.5)])
def test_where_no_passage_is_found_an_exhaustive_search_finds_none_and_the_other_way_round(
    gap: float, lower: float
) -> None:
    """A keel behind so much material, that begins above the chamber (lower > 0) or below it."""
    chamber = np.array([0.0, -11.0, 2.0]), np.array([20.0, 8.0, 9.0])
    keel_box = np.array([0.0, gap + 1.0, lower - 2.0]), np.array([4.0, 4.0, 5.0])
    part = solid(box(2.0 * HULL), *(inward(box(2.0 * half, middle)) for middle, half in (chamber, keel_box)))
    findings = analyse(part)
    plan = propose(findings, RULES)
    start, late = float(keel_box[0][2] - 5.0), findings.options.late_mm

    def is_there(slack: float) -> bool:
        """Whether a narrow passage from one of the walls that face each other to the other would keep all rules, and
        more than that by `slack` mm."""
        radius = 0.5
        for z, rise, across in product(
            np.arange(start + 0.3, start + 9.0, 0.25), np.arange(-6.0, 6.0, 0.25), np.arange(0.0, 4.0, 0.5)
        ):
            length = float(np.sqrt(gap**2 + rise**2 + across**2))
            flat = np.sqrt(1.0 - (rise / length) ** 2)
            lost = max(z, z + rise) - radius * flat - start
            over_floor = z + rise - radius > -7.0 + slack
            if gap / length > 0.6 and length <= 8.0 - slack and lost <= late - slack and over_floor:
                return True
        return False

    assert is_there(0.35) <= bool(plan.passages)
    assert bool(plan.passages) <= is_there(-0.35)
    assert len(plan.missing) == (0 if plan.passages else 1)
