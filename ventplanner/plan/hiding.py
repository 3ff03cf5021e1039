"""Proposals that weigh being hidden against breathing: all vents of a part chosen together.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.cups import Cups
from ventplanner.analysis.findings import Findings
from ventplanner.options import VentRules
from ventplanner.plan.alternatives import Found, Search, Site, effort, reason_of
from ventplanner.plan.fitting import Fit, as_vent, fit_of_vent, tool_of_vent
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.score import Judge
from ventplanner.plan.spacing import clear_of
from ventplanner.progress import Progress, silent

EACH_MM = 15.0
"""A hole more is as bad as this many mm of wall: one vent for two cups is worth a detour."""

POOL = 8
"""Places of each cup that are weighed against those of all others, beside the usual one."""

STAY_MM = 1.0
"""A vent stays in its usual place unless another one is better by this much."""

MOST_STEPS = 20000
"""Choices that are looked at before the best so far is taken; a part with a dozen cups needs some hundred."""


@dataclass(frozen=True, eq=False)
class Offer:
    """A vent that may be chosen: which cups breathe with it (numbers of a list), and its cost in mm of wall."""

    vent: Vent
    fit: Fit
    covers: frozenset[int]
    cost: float


def hidden(findings: Findings, rules: VentRules, usual: Plan, progress: Progress = silent) -> Plan:
    """The usual proposals, with the vents moved to where they are best at `rules.prefer`. Passages stay as they are.

    First the vents that open cups, all together: of some places for each, the set of least cost with which every cup
    breathes that breathes with the usual ones. Then second openings, one after the other. What was not found a better
    place for stays where it usually is. Every set is confirmed on the cups recomputed with it. Deterministic.
    """
    search = Search(findings, rules)
    legs = tuple(drill for passage in usual.passages for drill in passage.drills)
    seconds = tuple(v for v in usual.vents if _is_second(search, v, usual.drills))
    first = tuple(v for v in usual.vents if v not in seconds)
    chosen = _starts(replace(search, share=effort(len(usual.vents))), first, legs, progress)
    for k, vent in enumerate(seconds):
        progress("Looking for hidden places", 0.6 + 0.4 * k / max(1, len(seconds)))
        chosen = (*chosen, _second(search, vent, (*chosen, *seconds[k + 1 :], *legs)))
    progress("Looking for hidden places", 1.0)
    return replace(usual, vents=tuple(replace(v, id=str(n)) for n, v in enumerate(chosen, start=1)))


def _is_second(search: Search, vent: Vent, vents: Sequence[Vent]) -> bool:
    site = Site.of(search.findings, vent, vents)
    return site is not None and site.cup is None and vent.kind == "vent"


def _starts(search: Search, usual: tuple[Vent, ...], legs: tuple[Vent, ...], progress: Progress) -> tuple[Vent, ...]:
    """Vents for all cups that the usual ones open. legs: of passages, which are there besides."""
    findings = search.findings
    starts = [c.cup.start for cavity in findings.cavities for c in cavity.cups if c.state != "breathing"]
    besides = tuple(tool_of_vent(findings, leg) for leg in legs)
    tools = tuple(tool_of_vent(findings, v) for v in usual)
    goal = _breathing(search, findings.scene.cups((*tools, *besides)), starts)
    offers: list[Offer] = []
    for k, vent in enumerate(usual):
        progress("Looking for hidden places", 0.6 * k / len(usual))
        offers += _offers(search, vent, legs, starts, goal)
    for picked in cheapest_sets(offers, goal):
        after = findings.scene.cups((*(o.fit.tool for o in picked), *besides))
        if goal <= _breathing(search, after, starts):
            return tuple(o.vent for o in picked)
    return usual


def _offers(
    search: Search, vent: Vent, legs: tuple[Vent, ...], starts: Sequence[np.ndarray], goal: frozenset[int]
) -> list[Offer]:
    """The usual vent, and the cheapest other places for its cup."""
    findings, weights, prefer = search.findings, search.weights, search.rules.prefer
    site = Site.of(findings, vent, legs)
    own = fit_of_vent(findings, vent)
    with_own = findings.scene.cups((own.tool, *(tool_of_vent(findings, leg) for leg in legs)))
    usual = Offer(vent, own, goal & _breathing(search, with_own, starts), 0.0)
    if site is None or site.cup is None:
        return [usual]
    judged = site.judged(Judge(findings, search.views(), site.others, search.base_mm), own)
    kept = np.inf if judged is None else judged.terms.cost(prefer, weights)
    offers = [replace(usual, cost=EACH_MM - STAY_MM + min(kept, 1e6))]
    found = [f for f in search.places(site, vent.diameter_mm) if not f.terms.late] if vent.kind == "vent" else []
    for one in sorted(found, key=lambda f: round(f.terms.cost(prefer, weights), 6))[:POOL]:
        made = as_vent(findings, one.fit, vent.id, (site.cavity.id, site.cup.id, "vent"), reason_of(one))
        covers = goal & _breathing(search, one.after, starts)
        offers.append(Offer(made, one.fit, covers, EACH_MM + one.terms.cost(prefer, weights)))
    return offers


def cheapest_sets(offers: Sequence[Offer], goal: frozenset[int]) -> list[tuple[Offer, ...]]:
    """Sets of offers that together cover the goal and keep clear of each other, cheapest first; at most ten.

    Branch and bound: the uncovered cup with the fewest offers is covered next, the cheapest offer first; a branch is
    left when it costs more than the tenth best so far. Exact unless `MOST_STEPS` is met. Cups that no single offer
    covers are left to the confirmation.
    """
    able = frozenset(c for o in offers for c in o.covers)
    found: list[tuple[float, tuple[int, ...]]] = []
    steps = 0

    def grow(chosen: tuple[int, ...], covered: frozenset[int], cost: float) -> None:
        nonlocal steps
        steps += 1
        if steps > MOST_STEPS or (len(found) == 10 and cost >= found[-1][0]):
            return
        open_cups = (goal & able) - covered
        if not open_cups:
            one = (round(cost, 6), tuple(sorted(chosen)))
            if one not in found:
                found.append(one)
                found.sort()
                del found[10:]
            return
        options = {c: [k for k, o in enumerate(offers) if c in o.covers] for c in open_cups}
        cup = min(open_cups, key=lambda c: (len(options[c]), c))
        for k in sorted(options[cup], key=lambda k: (offers[k].cost, k)):
            if clear_of(offers[k].fit, [offers[c].fit for c in chosen]):
                grow((*chosen, k), covered | offers[k].covers, cost + offers[k].cost)

    grow((), frozenset(), 0.0)
    return [tuple(offers[k] for k in picked) for _, picked in found]


def _breathing(search: Search, cups: Cups, starts: Sequence[np.ndarray]) -> frozenset[int]:
    """Numbers of the starts at which everything breathes."""
    if not starts:
        return frozenset()
    number = cups.cup_at(np.array(starts) + np.array([0.0, 0.0, 1e-4]))
    options = search.findings.options
    return frozenset(k for k, n in enumerate(number) if n < 0 or cups.cups[n].state(options) == "breathing")


def _second(search: Search, vent: Vent, others: Sequence[Vent]) -> Vent:
    """A second opening where it is best at this preference; the usual one if nothing better is found."""
    search = replace(search, share=effort(len(others) + 1))
    site = Site.of(search.findings, vent, others)
    if site is None or site.cup is not None:
        return vent
    judge = Judge(search.findings, search.views(), site.others, search.base_mm)
    own = site.judged(judge, fit_of_vent(search.findings, vent))
    found: list[Found] = [*([own] if own is not None else []), *search.places(site, vent.diameter_mm)]
    if not found:
        return vent
    best_apart = max(f.terms.apart_mm or 0.0 for f in found)
    costs = [round(f.terms.cost(search.rules.prefer, search.weights, best_apart), 6) for f in found]
    best = found[int(np.argmin(costs))]
    if own is not None and costs[0] - STAY_MM <= min(costs):
        return vent
    return as_vent(search.findings, best.fit, vent.id, (site.cavity.id, vent.cup, "vent"), reason_of(best))
