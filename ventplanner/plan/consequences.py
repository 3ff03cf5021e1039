"""What other places for a vent do to suction, draining and print, and two narrower holes where one does not do.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.pools import pools_in
from ventplanner.flow.ground import Ground
from ventplanner.flow.suction import breathe
from ventplanner.geometry.columns import Tool
from ventplanner.plan.alternatives import Alternative, Alternatives, Found, Search, Site, alternatives, as_place, effort
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.score import Terms
from ventplanner.plan.spacing import clear_of
from ventplanner.plan.venting import holes_of, tools_of
from ventplanner.printed.engine import MEASURING
from ventplanner.printed.part import PixelPart
from ventplanner.printed.raster import side_by_side
from ventplanner.printed.widths import printed_width
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

PAIR_WIDTHS = (0.85, 1.0)
"""Two holes are tried with these shares of the width. Of the first, two together carry as much as one of full width in
creeping flow through a tube (fourth power: 2 x 0.52), a little more through a thin wall (third: 2 x 0.61)."""

PAIRED = 6
"""So many of the best hidden places are tried in pairs."""


@dataclass(frozen=True, eq=False)
class Air:
    """What suction is computed with."""

    ground: Ground
    profile: Profile

    @property
    def limit_pa(self) -> float:
        """The limit of the profile in Pa."""
        return 1000.0 * self.profile.suction_limit_kpa

    def suction(self, cavity: str, plan: Plan) -> float:
        """Pa: the worst in a cavity at the lift, once the plan's vents are complete."""
        flow = breathe(self.ground, self.profile, holes_of(plan, self.ground.findings.scene.frame))
        return max((c.peak_suction for c in flow.cups if c.cavity == cavity), default=0.0)


def every_alternative(
    search: Search, plan: Plan, air: Air | None = None, progress: Progress = silent
) -> dict[str, Alternatives]:
    """The alternatives of all vents of a plan by id, several vents at a time; see `alternatives` and
    `with_consequences`."""
    search = replace(search, share=effort(len(plan.vents)))
    _ = search.findings.scene.sight  # made once, before any of them asks for it
    work = [partial(told, search, vent, plan, air) for vent in plan.vents]
    found = side_by_side(work, "Looking for other places", progress)
    return {vent.id: one for vent, one in zip(plan.vents, found, strict=True) if one is not None}


def told(search: Search, vent: Vent, plan: Plan, air: Air | None = None) -> Alternatives | None:
    """The alternatives of a vent with what they bring, suction if `air` is given. plan: with all other vents
    and passages."""
    found = alternatives(search, vent, plan.drills)
    return None if found is None else with_consequences(search, found, plan, air)


def with_consequences(search: Search, found: Alternatives, plan: Plan, air: Air | None = None) -> Alternatives:
    """The alternatives with what the whole plan with each of them brings: the resin that stays when it drains; and if
    `air` is given, worst suction. Where the suction of the present place or of the best hidden
    one is beyond the limit, a pair of narrower holes in hidden places is added, if one is found that sucks less."""
    rest = plan.without_vent(found.present.vents[0].id)
    present, *places = (_whole(search, place, rest, air) for place in (found.present, *found.places))
    if air is not None and max(p.terms.suction_pa or 0.0 for p in (present, *places[-1:])) > air.limit_pa:
        pair = _pair(search, present, rest, air)
        places += [] if pair is None else [_whole(search, pair, rest, air)]
    return replace(found, present=present, places=tuple(places))


def _whole(search: Search, place: Alternative, rest: Plan, air: Air | None) -> Alternative:
    """A place with what follows from the whole plan with it. rest: the plan without it."""
    plan, cavity = replace(rest, vents=(*rest.vents, *place.vents)), place.vents[0].cavity
    tools = tools_of(search.findings, plan)
    if any(c.id == cavity for c in search.findings.cavities):
        stays = pools_in(search.findings, tools, cavity)
        place = place.telling(left_hanging_ml=0.001 * stays.hanging, left_standing_ml=0.001 * stays.standing)
    return place if air is None else place.telling(suction_pa=air.suction(cavity, plan))


def with_widths(
    findings: Findings,
    plan: Plan,
    found: Mapping[str, Alternatives],
    profile: Profile,
    progress: Progress = silent,
    known: Mapping[str, float] | None = None,
) -> dict[str, Alternatives]:
    """Alternatives by id with the width that prints in each place. plan: with all vents and passages. Each takes some
    tenths of a second, so it is apart from the search; cancels between them. known: mm, of vents where they are."""
    part = PixelPart.in_windows(findings, profile)
    work: list[Callable[[], float]] = []
    every = {name: (one.present, *one.places) for name, one in found.items()}
    for name, places in every.items():
        rest = tools_of(findings, plan.without_vent(name))
        for place in places:
            own = tuple(tool_of_vent(findings, vent) for vent in place.vents)
            is_known = known is not None and name in known and place is found[name].present
            work.append(
                partial(known.__getitem__, name) if known and is_known else partial(_narrowest, part, own, rest)
            )
    widths = iter(side_by_side(work, MEASURING, progress))
    told = {name: [p.telling(printed_mm=next(widths)) for p in places] for name, places in every.items()}
    return {name: replace(one, present=told[name][0], places=tuple(told[name][1:])) for name, one in found.items()}


def _narrowest(part: PixelPart, own: tuple[Tool, ...], rest: tuple[Tool, ...]) -> float:
    """mm that the narrowest of some holes prints wide, beside all others."""
    return min(printed_width(part, tool, (*own[:k], *own[k + 1 :], *rest)) for k, tool in enumerate(own))


def _pair(search: Search, present: Alternative, rest: Plan, air: Air) -> Alternative | None:
    """Two holes in hidden places: of the best ones the pair that is seen least of those that suck less than the present
    one or keep the limit; narrower ones first."""
    vent = present.vents[0]
    site = Site.of(search.findings, vent, rest.drills)
    if site is None:
        return None
    most = max(present.terms.suction_pa or 0.0, air.limit_pa)
    taken = {vent.id, *(v.id for v in rest.vents)}
    name = next(str(n) for n in range(1, len(taken) + 2) if str(n) not in taken)
    for share in PAIR_WIDTHS:
        wide = max(round(share * vent.diameter_mm, 1), 0.3)
        found = [f for f in search.places(site, wide) if not f.terms.late and f.terms.seen < present.terms.seen]
        best = sorted(found, key=lambda f: round(f.terms.cost(1.0, search.weights), 6))[:PAIRED]
        for one, other in sorted(combinations(best, 2), key=lambda pair: _look(search, pair)):
            if not clear_of(one.fit, (other.fit,)):
                continue
            why = f"Beside vent {vent.id}: two of {wide:g} mm in places that are less in view."
            second = replace(as_place(search, site, vent, other).vents[0], id=name, reason=why)
            both = (as_place(search, site, vent, one).vents[0], second)
            pascals = air.suction(vent.cavity, replace(rest, vents=(*rest.vents, *both)))
            if pascals < most:
                return Alternative(both, replace(_of_both(one.terms, other.terms), suction_pa=pascals))
    return None


def _look(search: Search, pair: tuple[Found, Found]) -> float:
    return round(sum(f.terms.cost(1.0, search.weights) for f in pair), 6)


def _of_both(a: Terms, b: Terms) -> Terms:
    """Terms of two holes: the cup is open as soon as one is; of all else the worse counts."""

    def least(x: float | None, y: float | None) -> float | None:
        return None if x is None or y is None else min(x, y)

    return Terms(
        lost_mm=least(a.lost_mm, b.lost_mm),
        sealed_left_mm3=least(a.sealed_left_mm3, b.sealed_left_mm3),
        apart_mm=least(a.apart_mm, b.apart_mm),
        wall_mm=max(a.wall_mm, b.wall_mm),
        seen=max(a.seen, b.seen),
        bend_deg=max(a.bend_deg, b.bend_deg),
        edge_mm=min(a.edge_mm, b.edge_mm),
        gap_mm=min(a.gap_mm, b.gap_mm),
        thin_mm=min(a.thin_mm, b.thin_mm),
        support_mm=min(a.support_mm, b.support_mm),
        base_mm=max(a.base_mm, b.base_mm),
        plate_mm=min(a.plate_mm, b.plate_mm),
        access_mm=min(a.access_mm, b.access_mm),
        late=a.late and b.late,
    )


def base_height(profile: Profile, on: str, gap_mm: float) -> float:
    """Build height in mm up to which layers are base layers: on supports the gap to the plate takes them up first."""
    return max(0.0, profile.base_layers * profile.layer_height_mm - (gap_mm if on == "supports" else 0.0))
