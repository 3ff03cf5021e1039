"""Other places for a vent: fitted, clearly different, as cheap as a search of a whole grid finds, and told truly."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import combinations

import bodies
import numpy as np
import pytest
import sample_parts
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.pools import pools
from ventplanner.flow.ground import ground
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.options import VentRules, Weights
from ventplanner.plan.alternatives import Alternatives, Found, Search, Site, alternatives, least_apart
from ventplanner.plan.consequences import Air, base_height, every_alternative, with_consequences, with_widths
from ventplanner.plan.drilling import drill
from ventplanner.plan.fitting import WELL_OPEN, Fit, fit, fit_of_vent, tool_of_vent
from ventplanner.plan.hiding import EACH_MM, STAY_MM, Offer, cheapest_sets
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.placement import propose
from ventplanner.plan.score import Judge, Terms, with_cup
from ventplanner.plan.spacing import clear_of
from ventplanner.plan.verification import compare
from ventplanner.printed.engine import widths_as_printed
from ventplanner.profile import Profile

ONE = VentRules(vents_per_cavity=1)
FRONT = (0.0, -1.0, 0.0)
WEIGHTS = Weights()
NOBODY = Vent("1", "A", "A1", "vent", (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, 1.0), 1.0, 1.0, 0.3, 0.3)


@cache
def hollow_box(turn: float = 0.0) -> Findings:
    """A block with walls of 2 mm, thinner on the right; turned about z (degrees)."""
    skins = bodies.box((24.0, 20.0, 22.0)), bodies.inward(bodies.block((-10.0, -8.0, -9.0), (10.8, 8.0, 9.0)))
    return analyse(bodies.solid(*(bodies.turned(m, turn, (0, 0, 1)) for m in skins)))


@cache
def sample(name: str) -> tuple[Findings, Plan]:
    return sample_parts.findings(name), sample_parts.proposed(name)


def turned_front(turn: float) -> tuple[float, float, float]:
    a = np.radians(turn)
    return (float(np.sin(a)), float(-np.cos(a)), 0.0)


def best_cost(found: Alternatives, prefer: float) -> float:
    every = (found.present, *found.places)
    return min(p.terms.cost(prefer, WEIGHTS, found.apart_best) for p in every if not p.terms.late)


def grid_of_fits(findings: Findings, radius: float, step: float) -> list[Fit]:
    """Every drill square to a side of the box through points of a grid on it."""
    low, high = findings.scene.vertices.min(axis=0), findings.scene.vertices.max(axis=0)
    fits = []
    for axis in range(3):
        others = [k for k in range(3) if k != axis]
        for sign, side in ((-1.0, low[axis]), (1.0, high[axis])):
            direction = np.zeros(3)
            direction[axis] = sign
            for u in np.arange(low[others[0]] + 0.13, high[others[0]], step):
                for v in np.arange(low[others[1]] + 0.13, high[others[1]], step):
                    at = np.zeros(3)
                    at[axis], at[others[0]], at[others[1]] = side, u, v
                    found = fit(findings, at, direction, radius, (-15.0, 0.0))
                    if isinstance(found, Fit) and found.blocked <= WELL_OPEN:
                        fits.append(found)
    return fits


def test_no_place_on_a_whole_grid_is_clearly_cheaper_than_the_best_that_is_found() -> None:
    findings = hollow_box()
    plan = propose(findings, ONE)
    search = Search(findings, replace(ONE, seen_from=FRONT))
    found = alternatives(search, plan.vents[0], plan.vents)
    site = Site.of(findings, plan.vents[0], ())
    assert found is not None
    assert site is not None
    assert site.cup is not None
    judge = Judge(findings, search.views())
    grid = []
    for one in grid_of_fits(findings, plan.vents[0].radius_mm, 2.4):
        after = findings.scene.cups((one.tool,))
        terms = with_cup(judge.terms(one), findings, site.before, after, site.cup.cup.start)
        grid += [] if terms.late else [terms]
    assert len(grid) > 30
    for prefer in (0.0, 0.5, 1.0):
        assert best_cost(found, prefer) <= min(terms.cost(prefer, WEIGHTS) for terms in grid) + 1.0


@pytest.mark.parametrize("turn", [90.0, 180.0, 37.0])
def test_turning_the_part_about_the_build_axis_changes_no_cost(turn: float) -> None:
    costs = []
    for angle in (0.0, turn):
        findings = hollow_box(angle)
        plan = propose(findings, ONE)
        found = alternatives(Search(findings, replace(ONE, seen_from=turned_front(angle))), plan.vents[0], plan.vents)
        assert found is not None
        costs.append([best_cost(found, p) for p in (0.0, 0.5, 1.0)])
    assert costs[1] == pytest.approx(costs[0], abs=1.0)


def test_the_same_question_has_the_same_answer() -> None:
    findings, plan = sample("lighthouse.stl")
    search = Search(findings, VentRules(), share=0.3)
    assert alternatives(search, plan.vents[3], plan.vents) == alternatives(search, plan.vents[3], plan.vents)
    findings, plan = hollow_box(), propose(hollow_box(), VentRules(prefer=0.7))
    assert propose(findings, VentRules(prefer=0.7)) == plan
    assert list(every_alternative(Search(findings, VentRules()), plan)) == [v.id for v in plan.vents]


def test_places_are_apart_and_each_is_worth_something() -> None:
    findings, plan = sample("lighthouse.stl")
    listed = 0
    for vent in plan.vents:
        found = alternatives(Search(findings, VentRules()), vent, plan.vents)
        assert found is not None
        listed += len(found.places)
        every = [found.present, *found.places]
        apart = least_apart(findings.cavity(vent.cavity), vent.diameter_mm)
        for one, other in combinations(every, 2):
            assert np.linalg.norm(np.subtract(one.vents[0].entry_mm, other.vents[0].entry_mm)) >= apart - 1e-9
        for place in found.places:
            was, now = found.present.terms, place.terms
            better = (
                now.seen < was.seen - 0.01
                or now.breathing(WEIGHTS, found.apart_best) < was.breathing(WEIGHTS, found.apart_best) - 0.4
                or now.making(WEIGHTS) < was.making(WEIGHTS) - 0.4
                or np.dot(place.vents[0].axis, vent.axis) <= 0.7
            )
            assert better, (vent.id, was, now)
        air = [p.terms.breathing(WEIGHTS, found.apart_best) for p in found.places]
        assert air == sorted(air)
    assert listed > 0


def test_what_is_told_is_what_the_part_shows_when_it_is_drilled() -> None:
    findings = hollow_box()
    plan = propose(findings, ONE)
    found = alternatives(Search(findings, replace(ONE, seen_from=FRONT)), plan.vents[0], plan.vents)
    assert found is not None
    assert len(found.places) >= 2
    for place in found.places:
        one = Plan(place.vents)
        assert compare(findings.part, drill(findings.part, one).solid, one) == ()
        after = findings.scene.cups((tool_of_vent(findings, place.vents[0]),))
        assert place.terms.sealed_left_mm3 == pytest.approx(after.sealed_area.volume, abs=1.0)
        assert place.terms.late == any(c.state(findings.options) != "breathing" for c in after.cups)


def test_places_in_faces_to_be_kept_clear_are_not_offered() -> None:
    findings = hollow_box()
    plan = propose(findings, ONE)
    vertices, faces = findings.part.vertices, findings.part.faces
    below = vertices[faces][:, :, 2].max(axis=1) <= vertices[:, 2].min() + 1e-9
    findings = findings.keeping_clear(FaceMask.of(below))
    found = alternatives(Search(findings, ONE), plan.vents[0], plan.vents)
    assert found is not None
    assert found.places
    assert all(place.vents[0].entry_mm[2] > -10.9 for place in found.places)


def test_with_the_usual_preference_proposals_stay_as_they_are() -> None:
    findings, plan = sample("lighthouse.stl")
    assert propose(findings, VentRules(prefer=0.0, seen_from=FRONT)) == plan


def test_hidden_proposals_open_every_cup_that_the_usual_ones_do_and_are_seen_less() -> None:
    findings, usual = sample("lighthouse.stl")
    rules = VentRules(prefer=1.0, seen_from=FRONT)
    plan = propose(findings, rules)
    assert plan.missing == usual.missing
    assert [v.id for v in plan.vents] == [str(k + 1) for k in range(len(plan.vents))]
    after = findings.scene.cups(tuple(tool_of_vent(findings, v) for v in plan.vents))
    before = findings.scene.cups(tuple(tool_of_vent(findings, v) for v in usual.vents))
    bad = [sum(c.state(findings.options) != "breathing" for c in cups.cups) for cups in (before, after)]
    assert bad[1] <= bad[0]
    judge = Judge(findings, Search(findings, rules).views())
    seen = [sum(judge.seen_share(fit_of_vent(findings, v)) for v in vents) for vents in (usual.vents, plan.vents)]
    assert seen[1] < seen[0] - 0.1
    assert compare(findings.part, drill(findings.part, plan).solid, plan) == ()


def test_a_second_opening_stays_away_from_the_first() -> None:
    findings, _ = sample("seal-pup.stl")
    plan = propose(findings, VentRules(prefer=1.0))
    first, second = (findings.scene.frame.to_build(np.array([v.exit_mm]))[0] for v in plan.vents)
    assert abs(second[2] - first[2]) > 10.0


@cache
def some_fit(k: int) -> Fit:
    """A drill far away from every other one, but for the next number if this one is even."""
    at = np.array([100.0 * (k // 2), 0.0, 2.0 * (k % 2)])
    return Fit(at, at + np.array([0.0, 2.0, 0.0]), np.array([0.0, 1.0, 0.0]), 1.0, 0.3, 0.3, 0.0)


@settings(max_examples=30)
@given(
    covers=st.lists(st.frozensets(st.integers(0, 4), max_size=3), min_size=1, max_size=9),
    costs=st.lists(st.integers(1, 30), min_size=9, max_size=9),
)
def test_the_cheapest_set_is_that_of_a_search_of_all_sets(covers: list[frozenset[int]], costs: list[int]) -> None:
    holes = [(k,) if k < 6 else (k, k - 5) for k in range(len(covers))]  # some offers are pairs
    offers = [
        Offer((NOBODY,) * len(holes[k]), tuple(map(some_fit, holes[k])), c, float(costs[k]))
        for k, c in enumerate(covers)
    ]
    goal = frozenset(range(5))
    able = goal & frozenset(c for o in offers for c in o.covers)
    best = None
    for size in range(len(offers) + 1):
        for picked in combinations(range(len(offers)), size):
            taken = [hole // 2 for k in picked for hole in holes[k]]
            conflict = len(set(taken)) < len(taken)
            if not conflict and able <= frozenset(c for k in picked for c in offers[k].covers):
                cost = sum(offers[k].cost for k in picked)
                best = cost if best is None else min(best, cost)
    found = cheapest_sets(offers, goal)
    assert (sum(o.cost for o in found[0]) if found else None) == best


def test_two_narrow_holes_take_the_place_of_a_wide_one_where_only_they_are_hidden(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    findings, rules = hollow_box(), replace(ONE, diameter_mm=2.5, prefer=1.0, seen_from=FRONT)
    places = Search.places

    def narrow_if_hidden(search: Search, site: Site, diameter: float) -> tuple[Found, ...]:
        """Where the part is not seen, there is no room for a wide hole."""
        return tuple(f for f in places(search, site, diameter) if diameter < 2.4 or f.terms.seen > 0.5)

    usual = propose(findings, replace(rules, prefer=0.0))
    search = Search(findings, rules)
    site = Site.of(findings, usual.vents[0], ())
    assert site is not None
    monkeypatch.setattr(Search, "places", narrow_if_hidden)
    judged = site.judged(Judge(findings, search.views(), (), 0.0), fit_of_vent(findings, usual.vents[0]))
    assert judged is not None
    cost = {d: [f.terms.cost(1.0, rules.weights) for f in search.places(site, d)] for d in (2.2, 2.5)}
    pairs = [
        a.terms.cost(1.0, rules.weights) + b.terms.cost(1.0, rules.weights)
        for a, b in combinations(search.places(site, 2.2), 2)
        if clear_of(a.fit, (b.fit,)) and not (a.terms.late or b.terms.late)
    ]
    singles = [*cost[2.5], judged.terms.cost(1.0, rules.weights) - STAY_MM]
    assert min(pairs) + 2 * EACH_MM < min(singles) + EACH_MM
    plan = propose(findings, rules)
    assert [v.diameter_mm for v in plan.vents] == [2.2, 2.2]  # 2.5 mm / 2 ** 0.25, rounded up
    fits = [fit_of_vent(findings, v) for v in plan.vents]
    judge = Judge(findings, search.views(), (), 0.0)
    found = [site.judged(judge, f) for f in fits]
    assert sum(f.terms.cost(1.0, rules.weights) for f in found if f is not None) == pytest.approx(min(pairs), abs=0.01)
    after = findings.scene.cups(tuple(f.tool for f in fits))
    assert all(c.state(findings.options) == "breathing" for c in after.cups)
    assert compare(findings.part, drill(findings.part, plan).solid, plan) == ()


def test_suction_beyond_the_limit_is_told_and_a_hidden_pair_is_offered_that_sucks_less() -> None:
    findings = hollow_box()
    plan = propose(findings, replace(ONE, diameter_mm=2.0))
    air = Air(ground(findings), Profile(suction_limit_kpa=0.5))
    search = Search(findings, replace(ONE, seen_from=(0.0, -0.5, -1.0)))
    found = alternatives(search, plan.vents[0], plan.vents)
    assert found is not None
    told = with_consequences(search, found, plan, air)
    told = with_widths(findings, plan, {"1": told}, air.profile)["1"]
    assert told.present.terms.suction_pa is not None
    assert told.present.terms.suction_pa > air.limit_pa
    for place in (told.present, *told.places[:-1]):  # each figure as it is found otherwise
        tool = tool_of_vent(findings, place.vents[0])
        kept, widths = pools(findings, (tool,))["A"], widths_as_printed(findings, (tool,), air.profile)
        assert place.terms.left_hanging_ml == pytest.approx(0.001 * kept.hanging)
        assert place.terms.left_standing_ml == pytest.approx(0.001 * kept.standing)
        assert place.terms.printed_mm == widths.vents[0].printed_mm
    assert told.present.terms.left_standing_ml == pytest.approx(0.0, abs=0.1)
    pair = told.places[-1]
    assert len(pair.vents) == 2
    assert pair.terms.suction_pa is not None
    assert pair.terms.suction_pa < told.present.terms.suction_pa
    assert pair.terms.seen < told.present.terms.seen
    assert pair.vents[0].id != pair.vents[1].id
    assert compare(findings.part, drill(findings.part, Plan(pair.vents)).solid, Plan(pair.vents)) == ()


def test_the_gap_to_the_plate_takes_up_base_layers_first() -> None:
    profile = Profile(base_layers=6, layer_height_mm=0.05)
    assert base_height(profile, "plate", 5.0) == pytest.approx(0.3)
    assert base_height(profile, "supports", 0.1) == pytest.approx(0.2)
    assert base_height(profile, "supports", 5.0) == 0.0


def test_terms_tell_edges_thin_walls_other_holes_and_the_way_in() -> None:
    cup = bodies.cut(bodies.block((-10, -10, 0), (10, 10, 20)), bodies.block((-8.8, -8.8, 1.2), (8.8, 8.8, 18.8)))
    tower = bodies.block((13, -10, 0), (15, 10, 20))  # 3 mm before the right side
    base = bodies.block((-10, -10, -2), (15, 10, 0.5))
    findings = analyse(bodies.solid(bodies.union(cup, tower, base)))
    judge = Judge(findings, Search(findings, ONE).views(), base_mm=0.0)

    def at(point: tuple[float, float, float], direction: tuple[float, float, float]) -> Terms:
        build = findings.scene.frame.to_build(np.array([point], dtype=float))[0]
        found = fit(findings, build, np.array(direction, dtype=float), 1.0, (-4.0, 0.0))
        assert isinstance(found, Fit), found
        return judge.terms(found)

    free, behind, rim = at((-10, 0, 9), (-1, 0, 0)), at((10, 0, 9), (1, 0, 0)), at((-10, 0, 17.7), (-1, 0, 0))
    assert free.access_mm == 60.0
    assert behind.access_mm == pytest.approx(3.0, abs=0.5)
    assert behind.seen < 0.5 * free.seen
    assert free.edge_mm == 2.0
    assert free.bend_deg == pytest.approx(0.0, abs=1e-6)
    assert rim.edge_mm == 1.0  # the edge is 1.3 mm from the rim
    assert free.thin_mm == pytest.approx(1.2, abs=1e-3)
    assert free.gap_mm == 10.0
    beside = replace(judge, others=(fit_of_vent(findings, propose(findings, ONE).vents[0]),))
    assert beside.gap(fit_of_vent(findings, propose(findings, ONE).vents[0])) == 0.0
