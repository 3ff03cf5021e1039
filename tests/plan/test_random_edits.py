"""Any edits in any order: what is drilled has the openings that were planned and no other, and no wall too thin."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from bodies import box, cut, inward, rod, solid
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.openings import Opening
from ventplanner.app.dragging import moved, others_of, resized, shaped
from ventplanner.app.dragging_passages import WHOLE
from ventplanner.app.dragging_passages import moved as passage_moved
from ventplanner.app.from_openings import moved_beside
from ventplanner.app.lookup import look_up
from ventplanner.app.state import AppState
from ventplanner.geometry.outline import Outline
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.options import VentRules
from ventplanner.plan.closing import Closed, closed
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Countersink, Passage, Plan, Vent
from ventplanner.plan.passage_width import resized as passage_resized
from ventplanner.plan.placement import propose
from ventplanner.plan.section_rules import Section
from ventplanner.plan.sections import UNDER_SINK_MM
from ventplanner.plan.spacing import LIGAMENT_MM
from ventplanner.plan.verification import compare

RULES = VentRules(passages="auto", longest_wall_mm=8.0)
HALF = 27.0
HOLE_MM, CLOSINGS = 2.4, 2
Boxes = tuple[tuple[np.ndarray, np.ndarray], ...]


@cache
def part(seed: int) -> tuple[Findings, Plan, Boxes]:
    """A hull with a chamber near its skin, which two holes lead into, and a keel behind it, all of random measures;
    what is proposed; the boxes (their middles and half sides)."""
    rng = np.random.default_rng(seed)
    chamber = np.array([0.0, -11.0, rng.uniform(0, 4)]), np.array([20.0, 8.0, 9.0])
    start = chamber[0][2] - 9.0 + rng.uniform(1.0, 3.0)  # of the keel: above that of the chamber
    keel = np.array([rng.uniform(-6, 6), rng.uniform(4.5, 7.5), start + 5.0]), np.array([4.0, 4.0, 5.0])
    holes = [(sign * rng.uniform(4, 15), chamber[0][2] + rng.uniform(3, 6)) for sign in (-1, 1)]
    rods = [rod((x, -15.0, z), (x, -30.0, z), 0.5 * HOLE_MM) for x, z in holes]
    hull = cut(box(2.0 * HALF), box(2.0 * chamber[1], chamber[0]), *rods)
    findings = analyse(solid(hull, inward(box(2.0 * keel[1], keel[0]))))
    return findings, propose(findings, RULES), (chamber, keel)


@cache
def looked_at(made: Solid) -> Findings:
    return analyse(made)


class Edits(RuleBasedStateMachine):
    """Accept, take out, make wider or narrower, give other sections, move, close: as a user would, through what the
    window uses."""

    @initialize(seed=st.sampled_from([2, 3, 0]))
    def begin(self, seed: int) -> None:
        self.findings, self.proposed, self.boxes = part(seed)
        self.plan = replace(self.proposed, missing=())
        self.closed = self.tried = 0

    @rule(k=st.integers(0, 9))
    def accept(self, k: int) -> None:
        holes = (*self.proposed.vents, *self.proposed.passages)
        hole = holes[k % len(holes)]
        if isinstance(hole, Vent):
            # One that was moved away meanwhile is where another may be now.
            if not isinstance(resized(self.findings, hole, hole.diameter_mm, others_of(self.plan, hole.id)), str):
                self.plan = self.plan.with_vent(hole)
        elif not isinstance(passage_resized(self.findings, self.plan, hole, hole.diameter_mm, RULES), str):
            self.plan = self.plan.with_passage(hole)

    def vent(self, k: int) -> Vent:
        return self.plan.vents[k % len(self.plan.vents)]

    def take(self, vent: Vent, found: Vent | str) -> None:
        if isinstance(found, Vent):
            self.plan = self.plan.with_vent(replace(found, id=vent.id))

    @precondition(lambda self: self.plan.vents)
    @rule(k=st.integers(0, 9), diameter=st.sampled_from([0.6, 1.2, 2.0, 3.3, 5.0, 9.0]))
    def resize(self, k: int, diameter: float) -> None:
        vent = self.vent(k)
        self.take(vent, resized(self.findings, vent, diameter, others_of(self.plan, vent.id)))

    @precondition(lambda self: self.plan.vents)
    @rule(
        k=st.integers(0, 9),
        shape=st.sampled_from(["round", "slot", "square"]),
        more=st.sampled_from([1.2, 2.5, 6.0]),
        turn=st.sampled_from([0.0, 35.0, 90.0]),
        sink=st.sampled_from([None, (0.6, 0.5), (2.0, 1.5), (5.0, 3.0)]),
    )
    def give_section(self, k: int, shape: str, more: float, turn: float, sink: tuple[float, float] | None) -> None:
        vent = self.vent(k)
        outline = Outline(shape, more * vent.diameter_mm if shape == "slot" else 0.0)  # type: ignore[arg-type]
        flare = None if sink is None else Countersink(vent.diameter_mm + sink[0], sink[1])
        wish = Section(vent.diameter_mm, outline, turn, flare)
        self.take(vent, shaped(self.findings, vent, wish, others_of(self.plan, vent.id)))

    @precondition(lambda self: self.plan.vents)
    @rule(k=st.integers(0, 9), side=st.integers(0, 3), a=st.floats(-20, 20), b=st.floats(-20, 20))
    def move(self, k: int, side: int, a: float, b: float) -> None:
        vent, axis, sign = self.vent(k), side // 2, 1.0 if side % 2 else -1.0
        out = np.roll((sign, 0.0, 0.0), axis)
        at = self.findings.scene.frame.to_build(np.roll((sign * HALF, a, b), axis))
        others = others_of(self.plan, vent.id)
        self.take(
            vent, moved(self.findings, vent, at, self.findings.scene.frame.direction_to_build(out), False, others)
        )

    @precondition(lambda self: self.plan.passages)
    @rule(diameter=st.sampled_from([0.8, 1.5, 3.0, 6.0, 12.0]))
    def resize_passage(self, diameter: float) -> None:
        found = passage_resized(self.findings, self.plan, self.plan.passages[0], diameter, RULES)
        if not isinstance(found, str):
            self.plan = self.plan.with_passage(found)

    @precondition(lambda self: self.plan.passages)
    @rule(stop=st.sampled_from([WHOLE, 0, 1]), by=st.tuples(st.floats(-5, 5), st.floats(-2, 2), st.floats(-5, 5)))
    def move_passage(self, stop: int, by: tuple[float, float, float]) -> None:
        passage = self.plan.passages[0]
        ends = np.array(passage.points_mm)
        at = (ends.mean(axis=0) if stop == WHOLE else ends[stop]) + by
        found = passage_moved(self.findings, self.plan, passage, stop, self.findings.scene.frame.to_build(at), RULES)
        if isinstance(found, Passage):
            self.plan = self.plan.with_passage(found)

    @precondition(lambda self: self.plan.drills)
    @rule(k=st.integers(0, 9))
    def take_out(self, k: int) -> None:
        holes = [hole.id for hole in (*self.plan.vents, *self.plan.passages)]
        name = holes[k % len(holes)]
        self.plan = self.plan.without_vent(name).without_passage(name)

    def opening(self, k: int) -> Opening:
        found = [o for c in self.findings.cavities for o in c.openings]
        return found[k % len(found)]

    def may_close(self) -> bool:
        """Each time the part is looked at anew, which takes longest."""
        return self.tried < CLOSINGS and any(c.openings for c in self.findings.cavities)

    @precondition(may_close)
    @rule(k=st.integers(0, 9))
    def close(self, k: int) -> None:
        self.tried += 1
        found = closed(self.findings, self.opening(k), self.plan)
        if isinstance(found, Closed):
            self.go_on_with(found.solid)

    @precondition(may_close)
    @rule(k=st.integers(0, 9), by=st.tuples(st.floats(-2, 2), st.floats(-2, 2)))
    def move_opening(self, k: int, by: tuple[float, float]) -> None:
        self.tried += 1
        frame, opening = self.findings.scene.frame, self.opening(k)
        x, _, z = frame.to_file(opening.at)
        at = frame.to_build(np.array([x + by[0], -HALF, z + by[1]]))
        name = f"m{self.closed}"
        out = frame.direction_to_build(np.array([0.0, -1.0, 0.0]))
        found = moved_beside(self.findings, opening, self.plan, name, (at, out))
        if not isinstance(found, str):
            self.plan = self.plan.with_vent(found[1])
            self.go_on_with(found[0].solid)

    def go_on_with(self, made: Solid) -> None:
        """The closed part is the part from now on, and the plan is looked up in it."""
        assert topology(made).euler == topology(self.findings.part).euler + 2
        self.closed += 1
        self.findings = looked_at(made)
        state = AppState(made, self.findings.pose, plan=replace(self.plan, missing=()))
        self.plan = look_up(state, self.findings).plan

    def home(self, point: tuple[float, float, float]) -> int:
        """0 outside, 1 in the chamber, 2 in the keel: where the end of a drill is."""
        inside = [k for k, (at, half) in enumerate(self.boxes, 1) if (np.abs(point - at) < half).all()]
        assert inside or max(np.abs(point)) > HALF
        return inside[0] if inside else 0

    def teardown(self) -> None:
        if not hasattr(self, "plan"):
            return
        drilled = drill(self.findings.part, self.plan).solid
        cuts = [v for v in self.plan.vents if v.kind == "vent"] + [leg for p in self.plan.passages for leg in p.legs]
        after = topology(drilled)
        assert after.euler == topology(self.findings.part).euler - 2 * len(cuts)
        assert compare(self.findings.part, drilled, self.plan) == ()
        # Skins: outside, chamber and keel, joined by what is planned and by the holes that are still there.
        joins = [(self.home(c.start_mm), self.home(c.end_mm)) for c in cuts] + [(0, 1)] * (2 - self.closed)
        one, other = np.array(joins).reshape(-1, 2).T
        graph = coo_array((np.ones(len(joins)), (one, other)), shape=(3, 3))
        assert after.n_skins == connected_components(graph, directed=False)[0]
        self.check_walls()

    def check_walls(self) -> None:
        """Between holes, under countersinks, and round passages."""
        hulls = [np.concatenate([surface(leg) for leg in hole]) for hole in self.holes()]
        for k, points in enumerate(hulls):
            for other in hulls[:k]:
                assert cKDTree(points).query(other)[0].min() >= LIGAMENT_MM - 0.05
        for vent in self.plan.vents:
            if vent.countersink is None:
                continue
            axis, flare = np.array(vent.axis), surface(vent.legs[1])
            deep = (flare - vent.entry_mm) @ axis
            flare = flare[(deep > 0.0) & (deep < vent.countersink.depth_mm)]
            assert min(self.way_in(p, axis) for p in flare) >= UNDER_SINK_MM - 0.05
        for passage in self.plan.passages:
            (leg,) = passage.legs
            ends = np.array([leg.start_mm, leg.end_mm])
            axis = ends[0] + np.linspace(0.0, 1.0, 300)[:, None] * (ends[1] - ends[0])
            assert HALF - np.abs(axis).max() >= passage.radius_mm + RULES.passage_wall_mm

    def holes(self) -> list[tuple[Vent, ...]]:
        return [v.legs for v in self.plan.vents] + [p.legs for p in self.plan.passages]

    def way_in(self, point: np.ndarray, axis: np.ndarray) -> float:
        """mm from a point along an axis to the first box (slabs)."""
        ways = []
        for at, half in self.boxes:
            with np.errstate(divide="ignore", invalid="ignore"):
                sides = np.sort(((at + np.outer((-1.0, 1.0), half)) - point) / axis, axis=0)
            first, last = sides[0].max(), sides[1].min()
            ways.append(first if first <= last and last > 0.0 else np.inf)
        return min(ways)


def surface(leg: Vent) -> np.ndarray:
    """(k, 3) points on the side of a drill, some 0.3 mm apart."""
    first, last = leg.bore.rings
    steps = np.linspace(0.0, 1.0, 2 + int(np.linalg.norm(last[0] - first[0]) / 0.3))[:, None, None]
    rims = first + steps * (last - first)
    share = np.linspace(0.0, 1.0, 8, endpoint=False)[:, None]
    after = np.roll(rims, -1, axis=1)
    return np.concatenate([(rims + s * (after - rims)).reshape(-1, 3) for s in share.ravel()])


TestEdits = Edits.TestCase
TestEdits.settings = settings(max_examples=5, stateful_step_count=10, deadline=None, derandomize=True)


@pytest.mark.long
class TestManyEdits(Edits.TestCase):
    settings = settings(max_examples=60, stateful_step_count=14, deadline=None, derandomize=True)
