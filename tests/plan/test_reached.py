"""Through what each cavity reaches the outside, held against networkx, and how it is told."""

from __future__ import annotations

from dataclasses import replace

import networkx as nx
from hollow_parts import found, keel, proposed
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import analyse
from ventplanner.app.left import left_to_do
from ventplanner.app.outlook import Outlook
from ventplanner.app.routes import in_short, in_words
from ventplanner.options import VentRules
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose
from ventplanner.plan.reached import OUTSIDE, Link, Step, links, routes, unreached, ways_out
from ventplanner.plan.venting import tools_of

NAMES = ["A", "B", "C", "D", "E"]


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from([*NAMES, OUTSIDE])), max_size=8))
def test_ways_out_are_the_shortest_paths_that_networkx_finds(pairs: list[tuple[str, str]]) -> None:
    known = [Link(f"passage P{n}", a, b) for n, (a, b) in enumerate(pairs)]
    graph = nx.Graph([(a, b) for a, b in pairs])
    graph.add_nodes_from([*NAMES, OUTSIDE])
    for name, steps in ways_out(NAMES, known).items():
        assert bool(steps) == nx.has_path(graph, name, OUTSIDE)
        at = name
        for step in steps:
            own = {link.by for link in known if {link.a, link.b} == {at, step.to}}
            assert set(step.by) == own != set()
            at = step.to
        assert not steps or (at == OUTSIDE and len(steps) == nx.shortest_path_length(graph, name, OUTSIDE))


def test_a_cavity_breathes_through_a_passage_and_the_vents_of_another() -> None:
    findings = analyse(keel())
    plan = propose(findings, VentRules(passages="auto", longest_wall_mm=8.0))
    assert routes(findings, plan)["B"] == (Step(("passage P1",), "A"), Step(("vent 1", "vent 2"), OUTSIDE))
    assert in_short(routes(findings, plan)["B"]) == "out by P1, A, 1, 2"
    way = "It leads by passage P1 into A, and from there to the outside by vents 1 and 2."
    assert in_words(routes(findings, plan)["B"]) == way
    assert unreached(findings, replace(plan, vents=())) == ("A", "B")


def test_an_opening_of_the_part_is_a_way_out_and_nothing_is_told_as_such() -> None:
    assert in_short((Step(("opening", "vent 2"), OUTSIDE),)) == "out by openings, 2"
    assert in_words((Step(("opening", "vent 2"), OUTSIDE),)) == (
        "It leads to the outside by openings of the part and vent 2."
    )
    assert routes(found(), Plan()) == {"A": (), "B": ()}
    assert in_words(()) == "Nothing leads from it to the outside yet."
    assert [link.a for link in links(found(), proposed())] == ["A", "B", "A", "B"]


def test_a_cavity_joined_to_a_sealed_one_that_is_left_as_it_is_stays_to_be_done() -> None:
    findings = analyse(keel())
    plan = propose(findings, VentRules(passages="auto", longest_wall_mm=8.0))
    joined = replace(plan, vents=(), left_alone=(("A", "a gift"),))
    outlook = Outlook(findings, findings.scene.cups(tools_of(findings, joined)))
    left = left_to_do(outlook, joined, ())
    assert [x.target for x in left if x.target.endswith(" B")] == ["cavity B"]
