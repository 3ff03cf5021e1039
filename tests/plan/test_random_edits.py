"""Any edits in any order: what is drilled has the openings that were planned and no other, and no wall too thin."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from bodies import box, inward, solid
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app.dragging import resized
from ventplanner.geometry.topology import topology
from ventplanner.options import VentRules
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.passage_width import resized as passage_resized
from ventplanner.plan.placement import propose
from ventplanner.plan.verification import compare

RULES = VentRules(passages="auto", longest_wall_mm=8.0)
HALF = 27.0


@cache
def part(seed: int) -> tuple[Findings, Plan, tuple[tuple[np.ndarray, np.ndarray], ...]]:
    """A hull with a chamber near its skin and a keel behind it, both of random measures; what is proposed; the boxes
    (their middles and half sides)."""
    rng = np.random.default_rng(seed)
    chamber = np.array([0.0, -11.0, rng.uniform(0, 4)]), np.array([20.0, 8.0, 9.0])
    keel = np.array([rng.uniform(-6, 6), rng.uniform(4.5, 7.5), rng.uniform(-2, 3)]), np.array([4.0, 4.0, 5.0])
    boxes = (chamber, keel)
    findings = analyse(solid(box(2.0 * HALF), *(inward(box(2.0 * half, middle)) for middle, half in boxes)))
    return findings, propose(findings, RULES), boxes


class Edits(RuleBasedStateMachine):
    """Accept, take out, make wider or narrower, move aside: as a user would, through what the window uses."""

    @initialize(seed=st.integers(0, 3))
    def begin(self, seed: int) -> None:
        self.findings, self.proposed, self.boxes = part(seed)
        self.plan = Plan()

    @rule(k=st.integers(0, 9))
    def accept(self, k: int) -> None:
        holes = (*self.proposed.vents, *self.proposed.passages)
        hole = holes[k % len(holes)]
        if isinstance(hole, Vent):
            self.plan = self.plan.with_vent(hole)
        else:
            self.plan = self.plan.with_passage(hole)

    @precondition(lambda self: self.plan.vents)
    @rule(k=st.integers(0, 9), diameter=st.sampled_from([0.6, 1.2, 2.0, 3.3, 5.0, 9.0]))
    def resize(self, k: int, diameter: float) -> None:
        vent = self.plan.vents[k % len(self.plan.vents)]
        others = tuple(d for d in self.plan.drills if d.id != vent.id)
        found = resized(self.findings, vent, diameter, others)
        if isinstance(found, Vent):
            self.plan = self.plan.with_vent(replace(found, id=vent.id, cavity=vent.cavity, cup=vent.cup))

    @precondition(lambda self: self.plan.passages)
    @rule(diameter=st.sampled_from([0.8, 1.5, 3.0, 6.0, 12.0]))
    def resize_passage(self, diameter: float) -> None:
        found = passage_resized(self.findings, self.plan, self.plan.passages[0], diameter, RULES)
        if not isinstance(found, str):
            self.plan = self.plan.with_passage(found)

    @precondition(lambda self: self.plan.drills)
    @rule(k=st.integers(0, 9))
    def take_out(self, k: int) -> None:
        name = self.plan.drills[k % len(self.plan.drills)].id
        self.plan = self.plan.without_vent(name).without_passage(name)

    def teardown(self) -> None:
        if not hasattr(self, "plan"):
            return
        drilled = drill(self.findings.part, self.plan).solid
        holes = len(self.plan.vents) + len(self.plan.passages)
        assert topology(drilled).euler == topology(self.findings.part).euler - 2 * holes
        assert compare(self.findings.part, drilled, self.plan) == ()
        for passage in self.plan.passages:
            (leg,) = passage.legs
            ends = np.array([leg.start_mm, leg.end_mm])
            axis = ends[0] + np.linspace(0.0, 1.0, 300)[:, None] * (ends[1] - ends[0])
            assert HALF - np.abs(axis).max() >= passage.radius_mm + RULES.passage_wall_mm


TestEdits = Edits.TestCase
TestEdits.settings = settings(max_examples=12, stateful_step_count=8, deadline=None, derandomize=True)
