"""Other places for a vent: a short list of clearly different ones, each with what it brings with it.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.cavities import Cavity, FoundCup
from ventplanner.analysis.cups import Cups
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.one_more import Change, Drilled
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules, Weights
from ventplanner.plan import extras
from ventplanner.plan.fitting import WELL_OPEN, Fit, as_vent, fit, fit_of_vent, through
from ventplanner.plan.model import Vent
from ventplanner.plan.score import Judge, Terms, chain_volume, cup_at, with_cup
from ventplanner.plan.skin import Spots, spots
from ventplanner.plan.spacing import clear_of
from ventplanner.plan.views import COARSE_RINGS, Views

SLIDER = (0.0, 1.0, 0.5, 0.25, 0.75)
"""Places are looked for at these positions of the slider, in this order."""

MOST = 5
"""A list of more places than this is read by nobody."""

APART_DIAMETERS, APART_SHARE = 3.0, 0.12
"""Places nearer to each other than so many diameters, or this share of the cavity's diagonal, are one place."""

SAMPLES, TRIES = 480, 30
"""Samples of the skin, and ways that are fitted exactly, for one vent."""

LEAST_SAMPLES, LEAST_TRIES = 160, 12
"""At least so many where a part has many vents, which share `SHARED` of both."""

SHARED = 3.0

ENOUGH_PLACES, MOST_LATE = 3, 2
"""Where fewer places than this keep the cup in time, a few that open it late are listed, too, and say so."""

LEAST_HEIGHT = 0.3
"""A second opening has at least this share of the height between openings that the best place has."""

USEFUL_SHARE = 0.1
"""A place that opens its cup late must free at least this share of what is sealed."""

OTHER_SIDE = 0.7
"""Two places with the same figures are listed both if their axes are further apart than this (cosine)."""

SAME_MM, SAME_SEEN = 0.5, 0.02
"""Costs (mm of wall) and shares of views that differ by less than this are told to be the same."""


@dataclass(frozen=True)
class Alternative:
    """One place, or two where `vents` has two: what would be drilled, and what it brings with it (of two, the worse of
    each, but the cup is open as soon as one is)."""

    vents: tuple[Vent, ...]
    terms: Terms

    def telling(self, **figures: float) -> Alternative:
        """The same with these of its terms, by name."""
        return replace(self, terms=replace(self.terms, **figures))  # type: ignore[arg-type]  # names are the caller's


@dataclass(frozen=True)
class Alternatives:
    """present: the vent as it is. places: other places, from the one that breathes best to the one that is hidden best.
    apart_best: mm of height between openings that the best place for a second one has; 0 for others."""

    present: Alternative
    places: tuple[Alternative, ...]
    apart_best: float = 0.0


@dataclass(frozen=True, eq=False)
class Found:
    """A fitted place with its terms, and what it does to the cups; None if nothing, or nobody asked."""

    fit: Fit
    terms: Terms
    change: Change | None = None


@dataclass(frozen=True, eq=False)
class Site:
    """What a vent is for, and what stands besides. cup: the one it is to open, None for a second opening of its cavity.
    others: all other drills. drilled: the part with those only. openings: (k, 3) build points of the cavity's other
    openings."""

    findings: Findings
    cavity: Cavity
    cup: FoundCup | None
    others: tuple[Fit, ...]
    drilled: Drilled
    openings: FloatArray

    @classmethod
    def of(cls, findings: Findings, vent: Vent, others: Sequence[Vent]) -> Site | None:
        """The site of a vent among others; None if it leads into no cavity that is known."""
        if all(c.id != vent.cavity for c in findings.cavities):
            return None
        cavity = findings.cavity(vent.cavity)
        rest = [v for v in others if v.id != vent.id]
        fits = tuple(fit_of_vent(findings, v) for v in rest)
        drilled = Drilled(findings.scene, tuple(f.tool for f in fits))
        own = [
            f.inner for f, v in zip(fits, (v for v in others if v.id != vent.id), strict=True) if v.cavity == cavity.id
        ]
        openings = [*own, *(o.at for o in cavity.openings if o.beyond == 0)]
        named = sorted(cavity.cups, key=lambda c: (c.id != vent.cup, c.cup.from_height))
        state = _states(findings, drilled.about(_starts(named)), named) if named else []
        bad = (c for c, is_now in zip(named, state, strict=True) if is_now != "breathing")
        return cls(findings, cavity, next(bad, None), fits, drilled, np.array(openings).reshape(-1, 3))

    @property
    def before(self) -> Cups:
        """The cups with the other drills only."""
        return self.drilled.cups

    @property
    def start(self) -> float:
        """Build height in mm from which places are wanted."""
        if self.cup is not None:
            return self.cup.cup.from_height
        corners = np.array(np.meshgrid(*self.cavity.bounds.T, indexing="ij")).reshape(3, -1).T
        return float(self.findings.scene.frame.to_build(corners)[:, 2].min())

    def apart(self, points: FloatArray) -> FloatArray | None:
        """(k,) mm of height between places and the nearest other opening; None where a cup's start counts instead."""
        if self.cup is not None or not len(self.openings):
            return None
        return np.asarray(np.abs(points[:, 2, None] - self.openings[None, :, 2]).min(axis=1))

    def serve(self, points: FloatArray, diameter: float) -> NDArray[np.bool_]:
        """(k,) bool: places where a second opening serves: not beside another, and with some height between them."""
        apart = self.apart(points)
        if apart is None:
            return np.ones(len(points), dtype=np.bool_)
        beside = np.linalg.norm(points[:, None] - self.openings[None], axis=2).min(axis=1)
        away = beside >= extras.APART_DIAMETERS * diameter
        return np.asarray(away & (apart >= LEAST_HEIGHT * apart[away].max(initial=0.0)))

    def judged(self, judge: Judge, found: Fit) -> Found | None:
        """A fit with its terms; None if it opens what shall stay closed."""
        apart = self.apart(found.inner[None])
        terms = judge.terms(found, None if apart is None else float(apart[0]))
        if self.cup is None:  # its cavity breathes without it, and `fit` keeps it from every other one
            return Found(found, terms)
        change = self.change(found)
        if self._opens_another(change):
            return None
        start = self.cup.cup.start
        terms = with_cup(terms, self.findings, change.before, change.after, start)
        # Of what is sealed in the cup, and in those it joins, without the drill.
        sealed = chain_volume(change.before, cup_at(change.before, start))
        useful = not terms.late or (terms.sealed_left_mm3 or 0.0) < (1.0 - USEFUL_SHARE) * sealed
        return Found(found, terms, change) if useful else None

    def change(self, found: Fit) -> Change:
        """What a drill does to the cups."""
        return self.drilled.one_more(found.tool, _starts([] if self.cup is None else [self.cup]))

    def _opens_another(self, change: Change) -> bool:
        """Whether a cup of another cavity that was sealed without the drill is open with it."""
        cups = [cup for cavity in self.findings.cavities if cavity.id != self.cavity.id for cup in cavity.cups]
        if not cups:
            return False
        changed = [cup for cup, held in zip(cups, change.holds(_starts(cups)), strict=True) if held]
        was, now = (_states(self.findings, c, changed) for c in (change.before, change.after))
        return any(a == "sealed" != b for a, b in zip(was, now, strict=True))


@dataclass(frozen=True, eq=False)
class Search:
    """How places are looked for. base_mm: build height up to which layers are base layers. share: of the whole effort
    that this vent may take, see `effort`."""

    findings: Findings
    rules: VentRules
    base_mm: float = 0.0
    share: float = 1.0

    @property
    def weights(self) -> Weights:
        """What counts how much."""
        return self.rules.weights

    def views(self, rings: int | None = None) -> Views:
        """From where the part is looked at."""
        frame = self.findings.scene.frame
        return Views.of(frame, self.rules.seen_from, *(() if rings is None else (rings,)))

    def places(self, site: Site, diameter: float) -> tuple[Found, ...]:
        """Fitted places all over the cavity: the best at some positions of the slider, none beside another."""
        samples = max(LEAST_SAMPLES, round(SAMPLES * self.share))
        ways = spots(self.findings, site.cavity, site.start, 0.5 * diameter, self.rules.longest_wall_mm, samples)
        ways = ways.take(np.flatnonzero(site.serve(ways.end, diameter)))
        judge = Judge(self.findings, self.views(), site.others, self.base_mm)
        found: list[Fit] = []
        half: list[Fit] = []
        for k in self._worth_fitting(site, ways, diameter):
            one = self._fitted(ways, k, diameter)
            if one is None or not clear_of(one, site.others):
                continue
            (found if one.blocked <= WELL_OPEN else half).append(one)
        judged = (site.judged(judge, one) for one in (found or half))
        return tuple(one for one in judged if one is not None)

    def _fitted(self, ways: Spots, k: int, diameter: float) -> Fit | None:
        about = (float(ways.inner[k]), float(ways.outer[k]))
        found = fit(self.findings, ways.origin[k], ways.direction[k], 0.5 * diameter, about)
        return found if isinstance(found, Fit) and found.wall <= self.rules.longest_wall_mm else None

    def _worth_fitting(self, site: Site, ways: Spots, diameter: float) -> list[int]:
        """Numbers of ways, in rounds: at each position of the slider the best that is not beside a chosen one."""
        seen = self.views(COARSE_RINGS).seen(self.findings.scene.sight, ways.entry, ways.normal)
        apart = site.apart(ways.end)
        air = self.weights.wall * ways.wall
        if apart is None:
            air = air + self.weights.lost * ways.lost
        else:
            air = air + self.weights.second * (float(apart.max(initial=0.0)) - apart)
        look = self.weights.seen * seen
        orders = [iter(np.lexsort((np.arange(len(ways)), np.round((1.0 - p) * air + p * look, 3)))) for p in SLIDER]
        chosen: list[int] = []
        tries = max(LEAST_TRIES, round(TRIES * self.share))
        while orders and len(chosen) < tries:
            for order in tuple(orders):
                k = next((int(k) for k in order if self._is_new(ways, chosen, int(k), diameter)), None)
                if k is None:
                    orders.remove(order)
                else:
                    chosen.append(k)
        return chosen[:tries]

    def _is_new(self, ways: Spots, chosen: list[int], k: int, diameter: float) -> bool:
        """Whether a way enters elsewhere than every chosen one, or there in another direction."""
        near = np.linalg.norm(ways.entry[chosen] - ways.entry[k], axis=1) < diameter
        return not (ways.direction[chosen][near] @ ways.direction[k] > 0.9).any()


def effort(vents: int) -> float:
    """Share of the effort for one of so many vents."""
    return min(1.0, SHARED / max(1, vents))


def alternatives(search: Search, vent: Vent, others: Sequence[Vent]) -> Alternatives | None:
    """The places where a vent could be instead, the other vents and the legs of passages (itself left out) staying
    where they are.

    Each is fitted exactly, cuts one wall once and opens nothing else; figures come from the cups recomputed with it.
    None if the vent leads into no known cavity. Deterministic.
    """
    site = Site.of(search.findings, vent, others)
    if site is None:
        return None
    own = fit_of_vent(search.findings, vent)
    judge = Judge(search.findings, search.views(), site.others, search.base_mm)
    present = site.judged(judge, own) or Found(own, judge.terms(own))
    found = search.places(site, vent.diameter_mm)
    best = max((f.terms.apart_mm or 0.0 for f in (present, *found)), default=0.0)
    short = shortened(found, present, search.weights, least_apart(site.cavity, vent.diameter_mm), best)
    places = tuple(as_place(search, site, vent, one) for one in short)
    return Alternatives(Alternative((vent,), present.terms), places, best)


def least_apart(cavity: Cavity, diameter: float) -> float:
    """mm from entry to entry from which on two places are clearly different."""
    diagonal = float(np.linalg.norm(cavity.bounds[1] - cavity.bounds[0]))
    return max(APART_DIAMETERS * diameter, APART_SHARE * diagonal)


def shortened(
    found: Sequence[Found], present: Found, weights: Weights, apart: float, apart_best: float
) -> tuple[Found, ...]:
    """A few clearly different places on the trade-off curve: the cheapest at each position of the slider that is well
    apart from the present and all chosen ones, and that none of them beats in everything."""
    chosen: list[Found] = []

    def is_new(one: Found) -> bool:
        return all(_distance(one, c) >= apart and not _beats(c, one, weights, apart_best) for c in (present, *chosen))

    in_time, late = [f for f in found if not f.terms.late], [f for f in found if f.terms.late]
    for pool, most in ((in_time, MOST), (late, MOST_LATE)):
        if pool is late and len(chosen) >= ENOUGH_PLACES:
            break
        full = len(chosen) + most
        for position in SLIDER:
            one = next((f for f in _by_cost(pool, position, weights, apart_best) if is_new(f)), None)
            if one is not None and len(chosen) < min(MOST, full):
                chosen.append(one)

    def curve(one: Found) -> tuple[float, float]:
        return one.terms.breathing(weights, apart_best), -one.terms.seen

    return tuple(sorted(chosen, key=curve))


def _by_cost(pool: Sequence[Found], position: float, weights: Weights, apart_best: float) -> Iterator[Found]:
    costs = [round(f.terms.cost(position, weights, apart_best), 6) for f in pool]
    yield from (pool[k] for k in np.argsort(costs, kind="stable"))


def _distance(one: Found, other: Found) -> float:
    return float(np.linalg.norm(one.fit.outer - other.fit.outer))


def _beats(one: Found, other: Found, weights: Weights, apart_best: float) -> bool:
    """Whether a place makes another one needless: it is clearly better in something and clearly worse in nothing, or
    the same on the same side."""
    a, b = one.terms, other.terms
    gains = (
        (b.breathing(weights, apart_best) - a.breathing(weights, apart_best)) / SAME_MM,
        (b.seen - a.seen) / SAME_SEEN,
        (b.making(weights) - a.making(weights)) / SAME_MM,
    )
    if a.late > b.late or min(gains) <= -1.0:
        return False
    return max(gains) >= 1.0 or float(one.fit.direction @ other.fit.direction) > OTHER_SIDE


def as_place(search: Search, site: Site, vent: Vent, one: Found) -> Alternative:
    """A found place as the vent that would be drilled there."""
    cup = vent.cup if site.cup is None else site.cup.id
    made = as_vent(search.findings, one.fit, vent.id, (site.cavity.id, cup, "vent"), reason_of(one))
    return Alternative((made,), one.terms)


def reason_of(found: Found) -> str:
    """Why a vent is there, in one or two sentences."""
    terms = found.terms
    seen = f"Seen in {100.0 * terms.seen:.0f} % of the views"
    if terms.apart_mm is not None:
        where = f"a second opening, {terms.apart_mm:.1f} mm of height away from the nearest one"
    elif terms.lost_mm is None or terms.lost_mm < 0.1:
        where = "opens at the start of the cup"
    else:
        where = f"opens {terms.lost_mm:.1f} mm above the start of the cup"
    late = ", which is too late" if terms.late else ""
    return f"{seen}; {where}{late}, {through(terms.wall_mm)}."


def _starts(cups: Sequence[FoundCup]) -> FloatArray:
    """(k, 3) build points just above the starts of cups."""
    return np.asarray(np.array([cup.cup.start for cup in cups]).reshape(-1, 3) + np.array([0.0, 0.0, 1e-4]))


def _states(findings: Findings, cups: Cups, of: Sequence[FoundCup]) -> list[str]:
    """The states, among `cups`, of what is at the starts of other cups."""
    numbers = cups.cup_at(_starts(of))
    return [cups.cups[n].state(findings.options) if n >= 0 else "breathing" for n in numbers]
