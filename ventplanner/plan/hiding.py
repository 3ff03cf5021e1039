"""Proposals that weigh being hidden against breathing: all vents of a part chosen together.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain, combinations

import numpy as np

from ventplanner.analysis.cups import Cups
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.one_more import Change, Drilled
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules
from ventplanner.plan.alternatives import Found, Search, Site, effort, reason_of
from ventplanner.plan.fitting import Fit, as_vent, fit_of_vent, tool_of_vent
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.score import Judge
from ventplanner.plan.spacing import clear_of
from ventplanner.printed.raster import side_by_side
from ventplanner.progress import Progress, silent

EACH_MM = 15.0
"""A hole more is as bad as this many mm of wall: one vent for two cups is worth a detour."""

POOL = 8
"""Places of each cup that are weighed against those of all others, beside the usual one."""

PAIRED = 5
"""Places of narrower holes of each cup that are tried in pairs, the cheapest."""

PAIR_SHARE = 2.0**-0.25
"""Each of a pair is so wide, of one hole: together they let through as much. The flow in a narrow hole goes with the
fourth power of its width (Hagen 1839, Poiseuille 1840), in a wide one with its square: then they let through more."""

STAY_MM = 1.0
"""A vent stays in its usual place unless another one is better by this much."""

MOST_STEPS = 20000
"""Choices that are looked at before the best so far is taken; a part with a dozen cups needs some hundred."""

NOWHERE = np.empty((0, 3))

MOST_SETS = 10
"""So many of the cheapest sets are tried on the part one after the other."""

HAIR = 1e-9
"""mm; bounds are sums of shares of costs, which round."""


@dataclass(frozen=True, eq=False)
class Offer:
    """A vent that may be chosen, or two: which cups breathe with it (numbers of a list), and its cost in mm of wall."""

    vents: tuple[Vent, ...]
    fits: tuple[Fit, ...]
    covers: frozenset[int]
    cost: float


def hidden(findings: Findings, rules: VentRules, usual: Plan, progress: Progress = silent) -> Plan:
    """The usual proposals, with the vents moved to where they are best at `rules.prefer`. Passages stay as they are.

    First the vents that open cups, all together: of some places for each, and of some pairs of narrower holes, the set
    of least cost with which every cup breathes that breathes with the usual ones. Then second openings, one after the
    other. What was not found a better place for stays where it usually is. Every set is confirmed on the cups
    recomputed with it. Deterministic.
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
    _ = findings.scene.sight  # made once, before any of the threads asks for it
    without = _breathing(search, findings.scene.cups(besides), starts)
    work = [
        partial(_offers, search, vent, legs, _Wanted(np.array(starts).reshape(-1, 3), goal, without)) for vent in usual
    ]
    found = side_by_side(work, "Looking for hidden places", lambda phase, share: progress(phase, 0.6 * share))
    offers = list(chain.from_iterable(found))
    for picked in cheapest_sets(offers, goal):
        after = findings.scene.cups((*(fit.tool for o in picked for fit in o.fits), *besides))
        if goal <= _breathing(search, after, starts):
            return tuple(vent for o in picked for vent in o.vents)
    return usual


@dataclass(frozen=True, eq=False)
class _Wanted:
    """starts: (k, 3) of all cups that do not breathe by themselves. goal: numbers of those that shall. without: numbers
    of those that do without any vent."""

    starts: FloatArray
    goal: frozenset[int]
    without: frozenset[int]

    def covered(self, search: Search, change: Change | None) -> frozenset[int]:
        """Which of the goal breathe with one more drill."""
        if change is None or not len(self.starts):
            return self.goal & self.without
        told = np.flatnonzero(change.holds(self.starts + np.array([0.0, 0.0, 1e-4])))
        changed = _breathing(search, change.after, self.starts[told])
        unchanged = self.without.difference(told.tolist())
        return self.goal & (unchanged | {int(told[k]) for k in changed})


def _offers(search: Search, vent: Vent, legs: tuple[Vent, ...], wanted: _Wanted) -> list[Offer]:
    """The usual vent, the cheapest other places for its cup, and pairs of narrower holes."""
    findings, weights, prefer = search.findings, search.weights, search.rules.prefer
    site = Site.of(findings, vent, legs)
    own = fit_of_vent(findings, vent)
    drilled = (
        Drilled(findings.scene, tuple(tool_of_vent(findings, leg) for leg in legs)) if site is None else site.drilled
    )
    usual = Offer((vent,), (own,), wanted.covered(search, drilled.one_more(own.tool, NOWHERE)), 0.0)
    if site is None or site.cup is None:
        return [usual]
    judged = site.judged(Judge(findings, search.views(), site.others, search.base_mm), own)
    kept = np.inf if judged is None else judged.terms.cost(prefer, weights)
    offers = [replace(usual, cost=EACH_MM - STAY_MM + min(kept, 1e6))]
    found = [f for f in search.places(site, vent.diameter_mm) if not f.terms.late] if vent.kind == "vent" else []
    for one in sorted(found, key=lambda f: round(f.terms.cost(prefer, weights), 6))[:POOL]:
        made = as_vent(findings, one.fit, vent.id, (site.cavity.id, site.cup.id, "vent"), reason_of(one))
        covers = wanted.covered(search, one.change)
        offers.append(Offer((made,), (one.fit,), covers, EACH_MM + one.terms.cost(prefer, weights)))
    least = min((o.cost for o in offers if o.covers), default=np.inf)
    return [*offers, *_pairs(search, site, vent, wanted, least)]


def _pairs(search: Search, site: Site, vent: Vent, wanted: _Wanted, least: float) -> list[Offer]:
    """Two narrower holes instead of one, where both fit and cost less than `least`, what one costs by itself: places
    that are too small for the wide one may be hidden better."""
    wide = math.ceil(10.0 * PAIR_SHARE * vent.diameter_mm - 1e-9) / 10.0
    rules, weights = search.rules, search.weights
    too_narrow = wide >= vent.diameter_mm or (rules.size == "need" and wide < rules.least_mm)
    if too_narrow or vent.kind != "vent" or site.cup is None or least <= 2.0 * EACH_MM:
        return []
    found = [(f, f.terms.cost(rules.prefer, weights)) for f in search.places(site, wide) if not f.terms.late]
    best = sorted(found, key=lambda pair: round(pair[1], 6))[:PAIRED]
    where, offers = (site.cavity.id, site.cup.id, "vent"), []
    for (one, a), (other, b) in combinations(best, 2):
        cost = 2.0 * EACH_MM + a + b
        if cost < least and clear_of(one.fit, (other.fit,)):
            why = f"One of two of {wide:g} mm, which are better placed than one of {vent.diameter_mm:g} mm."
            vents = tuple(
                as_vent(search.findings, f.fit, vent.id, where, f"{reason_of(f)} {why}") for f in (one, other)
            )
            covers = wanted.covered(search, one.change) | wanted.covered(search, other.change)
            offers.append(Offer(vents, (one.fit, other.fit), covers, cost))
    return offers


def cheapest_sets(offers: Sequence[Offer], goal: frozenset[int]) -> list[tuple[Offer, ...]]:
    """Sets of offers that together cover the goal and keep clear of each other, cheapest first; at most ten.

    Branch and bound: the uncovered cup with the fewest offers is covered next, the cheapest offer first; a branch is
    left when it must cost more than the tenth best so far: every uncovered cup costs at least its share of the offer
    that is the cheapest by the cup. Exact unless `MOST_STEPS` is met. Cups that no single offer covers are left to the
    confirmation.
    """
    wanted = goal & frozenset(c for o in offers for c in o.covers)
    order = sorted(range(len(offers)), key=lambda k: (offers[k].cost, k))
    options = {c: [k for k in order if c in offers[k].covers] for c in wanted}
    least = {c: min(offers[k].cost / len(wanted & offers[k].covers) for k in options[c]) for c in wanted}
    fewest = sorted(wanted, key=lambda c: (len(options[c]), c))
    clear: dict[tuple[int, int], bool] = {}
    found: list[tuple[float, tuple[int, ...]]] = []
    steps = 0

    def is_clear(k: int, other: int) -> bool:
        if (k, other) not in clear:
            clear[k, other] = all(clear_of(fit, offers[other].fits) for fit in offers[k].fits)
        return clear[k, other]

    def grow(chosen: tuple[int, ...], covered: frozenset[int], cost: float) -> None:
        nonlocal steps
        steps += 1
        open_cups = [c for c in fewest if c not in covered]
        bound = max(cost, cost + sum(least[c] for c in open_cups) - HAIR)
        if steps > MOST_STEPS or (len(found) == MOST_SETS and bound >= found[-1][0]):
            return
        if not open_cups:
            one = (round(cost, 6), tuple(sorted(chosen)))
            if one not in found:
                found.append(one)
                found.sort()
                del found[MOST_SETS:]
            return
        for k in options[open_cups[0]]:
            if all(is_clear(k, c) for c in chosen):
                grow((*chosen, k), covered | offers[k].covers, cost + offers[k].cost)

    grow((), frozenset(), 0.0)
    return [tuple(offers[k] for k in picked) for _, picked in found]


def _breathing(search: Search, cups: Cups, starts: Sequence[FloatArray] | FloatArray) -> frozenset[int]:
    """Numbers of the starts at which everything breathes."""
    if not len(starts):
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
