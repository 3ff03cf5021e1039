"""What is left to do before the part may be exported, in plain sentences, with the vents that are accepted so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ventplanner.analysis.cups import Cup
from ventplanner.app.outlook import Outlook
from ventplanner.plan.model import NoVent, Passage, Plan, Vent
from ventplanner.plan.reached import routes as routes_of

OR_LEAVE = "or leave it as it is"


@dataclass(frozen=True)
class Left:
    """One thing to do. target: what to look at, in the words of a selection ("proposal 3", "cup A1", "vent 2")."""

    text: str
    target: str


def left_to_do(
    outlook: Outlook,
    plan: Plan,
    offered: Sequence[Vent] | None,
    set_aside: Sequence[Vent] = (),
    missing: Sequence[NoVent] = (),
    *,
    searched: bool = True,
    joins: Sequence[Passage] = (),
) -> tuple[Left, ...]:
    """A sentence for each cavity that does not breathe with the accepted vents, and for each vent that serves none.

    outlook: with the accepted vents. plan: the user's. offered: open proposals, in their order; None while they are
    being looked for. missing: cups that have no proposal, and why. searched: False if the search for vents was
    stopped or failed. joins: passages inside the part that are offered. Cavities left as they are are not reproached.
    """
    alone = {cavity for cavity, _ in plan.left_alone}
    sooner = None if offered is None else _sooner(offered, plan, outlook)
    known = _Known(outlook, plan, sooner, _sooner(set_aside, plan, outlook), missing, searched, joins)
    found: list[Left] = []
    routes = routes_of(outlook.findings, plan)
    for cavity in (*(c.id for c in outlook.findings.cavities), ""):
        bad = outlook.bad(cavity)
        if bad and cavity not in alone:
            found += _about(cavity, bad, known)
    joined = {name for p in plan.passages for name in (p.cavity, p.to)} - alone
    untold = [name for name in routes if name in joined and not routes[name] and not outlook.bad(name)]
    found += [_leads_nowhere(name, plan) for name in untold]
    found += [
        Left(f"Vent {v.id} leads into no cavity: move it or remove it.", f"vent {v.id}")
        for v in plan.vents
        if not v.cavity
    ]
    return tuple(found)


def _leads_nowhere(cavity: str, plan: Plan) -> Left:
    """A cavity that passages join to one that reaches the outside no more than itself."""
    joined = {p.to if p.cavity == cavity else p.cavity for p in plan.passages if cavity in {p.cavity, p.to}}
    others = _and(sorted(joined - {cavity}) or ["nothing"])
    return Left(f"{cavity} leads only to {others}, and not to the outside: vent one of them.", f"cavity {cavity}")


def why_none(none: NoVent) -> str:
    """Why no vent was found for a cup: a clause."""
    return f"{none.reason}; closest miss: {none.closest}" if none.closest else none.reason


@dataclass(frozen=True, eq=False)
class _Known:
    """What `left_to_do` is told."""

    outlook: Outlook
    plan: Plan
    offered: Sequence[Vent] | None
    set_aside: Sequence[Vent]
    missing: Sequence[NoVent]
    searched: bool
    joins: Sequence[Passage] = ()


def _about(cavity: str, bad: Sequence[tuple[str, Cup]], known: _Known) -> list[Left]:
    """One cavity: what is the matter, and the nearest thing that can be done about it; then its cups without a vent."""
    matter, here = _matter(cavity, bad), f"cavity {cavity}" if cavity else ""
    if known.offered is None:
        return [Left(f"{matter}; vents are being looked for.", here)]
    joined = {p.cup: p for p in known.joins if p.cavity == cavity and p.cup in dict(bad)}
    if joined:
        told = [_to_join(cavity, [(name, cup) for name, cup in bad if name == p.cup], p) for p in joined.values()]
        rest = [(name, cup) for name, cup in bad if name not in joined]
        return told + (_about(cavity, rest, replace(known, joins=())) if rest else [])
    cups = [name for name, _ in bad]
    own = {v.cup for v in known.offered if v.cavity == cavity}
    hopeless = [m for m in known.missing if m.cavity == cavity and m.cup in cups and m.cup not in own]
    without = {m.cup for m in hopeless}
    rest = [(name, cup) for name, cup in bad if name not in without]
    if not rest and hopeless:
        first = hopeless[0]
        target = f"cup {first.cup}" if first.cup else here
        return [Left(f"{matter}, and no vent was found for it, because {why_none(first)}.", target)]
    told = _remedies(cavity, rest, known)
    return told + [
        Left(f"{cavity} has no vent for cup {m.cup}: none was found, because {why_none(m)}.", f"cup {m.cup}")
        for m in hopeless
    ]


def _to_join(cavity: str, bad: Sequence[tuple[str, Cup]], passage: Passage) -> Left:
    """A cup that a passage would let breathe."""
    own = passage.to == cavity
    who, where = (passage.cup, f"the rest of {cavity}") if own else (cavity, passage.to)
    return Left(f"{_matter(who, bad)}: join it to {where} inside, {OR_LEAVE}.", f"joining {passage.id}")


def _remedies(cavity: str, bad: Sequence[tuple[str, Cup]], known: _Known) -> list[Left]:
    """All cups that do not breathe, at once: first those for which a vent is offered, then those whose own is late.

    Cups without a vent of their own, accepted or offered, are told with the first.
    """
    offered = {v.cup for v in (*(known.offered or ()), *known.set_aside) if v.cavity == cavity}
    drilled = {v.cup for v in known.plan.vents if v.cavity == cavity}
    late = [(name, cup) for name, cup in bad if name in drilled and name not in offered]
    first = [pair for pair in bad if pair not in late]
    if not any(name in offered for name, _ in first):
        return [_to_do(cavity, bad, known)]
    return [_to_do(cavity, some, known) for some in (first, late) if some]


def _to_do(cavity: str, bad: Sequence[tuple[str, Cup]], known: _Known) -> Left:
    """What can be done about the cups of a cavity that do not breathe."""
    plan = known.plan
    matter, here = _matter(cavity, bad), f"cavity {cavity}" if cavity else ""
    cups = [name for name, _ in bad]
    mine = [v for v in plan.vents if v.cavity == cavity]
    at_fault = _at_fault(cups, mine, known.outlook)
    if chosen := _one_for_each(cups, [v for v in known.offered or () if v.cavity == cavity], bool(at_fault)):
        return Left(f"{matter}: accept {_listed(chosen)}, {OR_LEAVE}.", f"proposal {chosen[0].id}")
    if chosen := _one_for_each(cups, [v for v in known.set_aside if v.cavity == cavity], bool(at_fault)):
        return Left(f"{matter}: bring back {_listed(chosen)}, which you set aside, {OR_LEAVE}.", here)
    if own := [v for v in mine if _ends_on_plate(known.outlook, v)]:
        verb = "ends" if len(own) == 1 else "end"
        return Left(f"{matter}: {_listed(own)} {verb} on the plate; move to a side, {OR_LEAVE}.", f"vent {own[0].id}")
    if own := at_fault:
        verb = "opens" if len(own) == 1 else "open"
        return Left(
            f"{matter}: {_listed(own)} {verb} too late; move nearer to the start, {OR_LEAVE}.", f"vent {own[0].id}"
        )
    if mine and any(cups):
        names = [name for name in cups if name]
        which = f"{'cup' if len(names) == 1 else 'cups'} {_and(names)}"
        return Left(f"{matter}: no vent leads into {which}; add one there, {OR_LEAVE}.", f"cup {names[0]}")
    if not known.searched:
        return Left(f"{matter}; vents have not been looked for.", here)
    return Left(f"{matter}: no vent was found for it; hang the part otherwise, {OR_LEAVE}.", here)


def _at_fault(cups: Sequence[str], mine: Sequence[Vent], outlook: Outlook) -> list[Vent]:
    """Of the vents of each cup the lowest: it opens the cup, those above it are second openings and not at fault."""
    height = partial(_height, outlook)
    lowest = [min((v for v in mine if v.cup == cup), key=height, default=None) for cup in dict.fromkeys(cups)]
    found = [v for v in lowest if v is not None]
    return found or sorted((v for v in mine if not v.cup), key=height)[:1]


def _sooner(vents: Sequence[Vent], plan: Plan, outlook: Outlook) -> list[Vent]:
    """Those vents that are no second opening above an accepted vent of their cup: these open nothing sooner."""
    lowest: dict[tuple[str, str], float] = {}
    for vent in plan.vents:
        key = vent.cavity, vent.cup
        lowest[key] = min(_height(outlook, vent), lowest.get(key, np.inf))
    return [v for v in vents if not v.cup or _height(outlook, v) < lowest.get((v.cavity, v.cup), np.inf)]


def _height(outlook: Outlook, vent: Vent) -> float:
    """Build height (mm) at which a vent comes into its hollow."""
    return float(outlook.findings.scene.frame.to_build(np.asarray(vent.exit_mm))[2])


def _ends_on_plate(outlook: Outlook, vent: Vent) -> bool:
    """Whether the plate closes the mouth of a vent."""
    findings = outlook.findings
    if findings.pose.on != "plate":
        return False
    return float(findings.scene.frame.to_build(np.asarray(vent.entry_mm))[2]) < findings.options.layer_mm


def _matter(cavity: str, bad: Sequence[tuple[str, Cup]]) -> str:
    """ "B is sealed from 47.2 mm", "B opens 7.0 mm too late, at 12.3 mm"; of several cups each by its name."""
    named = dict(reversed(bad))  # of cups that bear the same name the first
    if len(named) > 1 and all(named):
        return _matters({name: named[name] for name, _ in bad})
    who = cavity or "A cup in no cavity"
    sealed = next((cup for _, cup in bad if cup.to_height is None), None)
    if sealed is not None:
        how = "closed by the plate" if is_closed_by_plate(sealed) else "sealed"
        return f"{who} is {how} from {sealed.from_height:.1f} mm"
    first = bad[0][1]
    return f"{who} opens {too_late_mm(first):.1f} mm too late, at {_opens_at(first):.1f} mm"


def _matters(bad: dict[str, Cup]) -> str:
    """ "A1 and A2 are sealed from 2.0 and 5.0 mm, A4 opens 7.0 mm too late, at 12.3 mm"."""
    parts = []
    for how, one, many in (("sealed", "is", "are"), ("closed by the plate", "is", "are"), ("late", "opens", "open")):
        own = [(name, cup) for name, cup in bad.items() if _kind(cup) == how]
        if not own:
            continue
        who = f"{_and([name for name, _ in own])} {one if len(own) == 1 else many}"
        if how == "late":
            by, at = (_and([f"{of(cup):.1f}" for _, cup in own]) for of in (too_late_mm, _opens_at))
            parts.append(f"{who} {by} mm too late, at {at} mm")
        else:
            parts.append(f"{who} {how} from {_and([f'{cup.from_height:.1f}' for _, cup in own])} mm")
    return ", ".join(parts)


def _kind(cup: Cup) -> str:
    if cup.to_height is not None:
        return "late"
    return "closed by the plate" if is_closed_by_plate(cup) else "sealed"


def _and(texts: Sequence[str]) -> str:
    return f"{', '.join(texts[:-1])} and {texts[-1]}" if len(texts) > 1 else texts[0]


def is_closed_by_plate(cup: Cup) -> bool:
    """Whether a cup that never opens is closed by the plate and not by the part."""
    return cup.to_height is None and cup.closed_by == "plate"


def too_late_mm(cup: Cup) -> float:
    """By how many mm of build height a late cup opens above its start."""
    return _opens_at(cup) - cup.from_height


def _opens_at(cup: Cup) -> float:
    return cup.to_height if cup.to_height is not None else cup.top_height


def _one_for_each(cups: Sequence[str], vents: Sequence[Vent], only_own: bool) -> list[Vent]:
    """The first vent for each cup; without any of their own, and unless `only_own`, the first of the cavity will do."""
    chosen: dict[str, Vent] = {}
    for cup in cups:
        own = next((v for v in vents if v.cup == cup), None)
        if own is not None:
            chosen.setdefault(own.id, own)
    return list(chosen.values()) or list(() if only_own else vents[:1])


def _listed(vents: Sequence[Vent]) -> str:
    return f"{'vent' if len(vents) == 1 else 'vents'} {_and([v.id for v in vents])}"
