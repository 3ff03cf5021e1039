"""What is left to do before the part may be exported, in plain sentences, with the vents that are accepted so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ventplanner.analysis.cups import Cup
from ventplanner.app.outlook import Outlook
from ventplanner.plan.model import NoVent, Plan, Vent

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
) -> tuple[Left, ...]:
    """A sentence for each cavity that does not breathe with the accepted vents, and for each vent that serves none.

    outlook: with the accepted vents. plan: the user's. offered: open proposals, in their order; None while they are
    being looked for. missing: cups that have no proposal, and why. Cavities left as they are are not reproached.
    """
    alone = {cavity for cavity, _ in plan.left_alone}
    found: list[Left] = []
    for cavity in (*(c.id for c in outlook.findings.cavities), ""):
        bad = outlook.bad(cavity)
        if bad and cavity not in alone:
            found.append(_about(cavity, bad, plan, offered, (set_aside, missing)))
    found += [
        Left(f"Vent {v.id} leads into no cavity: move it or remove it.", f"vent {v.id}")
        for v in plan.vents
        if not v.cavity
    ]
    return tuple(found)


def _about(
    cavity: str,
    bad: Sequence[tuple[str, Cup]],
    plan: Plan,
    offered: Sequence[Vent] | None,
    rest: tuple[Sequence[Vent], Sequence[NoVent]],
) -> Left:
    """One cavity: what is the matter, and the nearest thing that can be done about it."""
    set_aside, missing = rest
    matter = _matter(cavity, bad)
    here = f"cavity {cavity}" if cavity else ""
    if offered is None:
        return Left(f"{matter}; vents are being looked for.", here)
    cups = [name for name, _ in bad]
    if chosen := _one_for_each(cups, [v for v in offered if v.cavity == cavity]):
        return Left(f"{matter}: accept {_listed(chosen)}, {OR_LEAVE}.", f"proposal {chosen[0].id}")
    for none in missing:
        if none.cup in cups and none.cavity == cavity:
            why = f"{none.reason}; closest miss: {none.closest}" if none.closest else none.reason
            return Left(
                f"{matter}, and no vent was found for it, because {why}.", f"cup {none.cup}" if none.cup else here
            )
    if chosen := _one_for_each(cups, [v for v in set_aside if v.cavity == cavity]):
        return Left(f"{matter}: bring back {_listed(chosen)}, which you set aside, {OR_LEAVE}.", here)
    if own := [v for v in plan.vents if v.cavity == cavity and (v.cup in cups or not v.cup)]:
        verb = "opens" if len(own) == 1 else "open"
        return Left(
            f"{matter}: {_listed(own)} {verb} too late; move nearer to the start, {OR_LEAVE}.", f"vent {own[0].id}"
        )
    if any(v.cavity == cavity for v in plan.vents) and any(cups):
        names = [name for name in cups if name]
        which = f"cup {names[0]}" if len(names) == 1 else f"cups {', '.join(names[:-1])} and {names[-1]}"
        return Left(f"{matter}: no vent leads into {which}; drag one there, {OR_LEAVE}.", f"cup {names[0]}")
    return Left(f"{matter}: no vent was found for it; hang the part otherwise, {OR_LEAVE}.", here)


def _matter(cavity: str, bad: Sequence[tuple[str, Cup]]) -> str:
    """ "B is sealed from 47.2 mm", or "B opens 7.0 mm too late, at 12.3 mm"."""
    who = cavity or "A cup in no cavity"
    sealed = next((cup for _, cup in bad if cup.to_height is None), None)
    if sealed is not None:
        how = "closed by the plate" if sealed.closed_by == "plate" else "sealed"
        return f"{who} is {how} from {sealed.from_height:.1f} mm"
    first = bad[0][1]
    opens = first.to_height if first.to_height is not None else first.top_height
    return f"{who} opens {opens - first.from_height:.1f} mm too late, at {opens:.1f} mm"


def _one_for_each(cups: Sequence[str], vents: Sequence[Vent]) -> list[Vent]:
    """The first vent for each cup; where a cup has none of its own, the first of the cavity will do."""
    chosen: dict[str, Vent] = {}
    for cup in cups:
        own = next((v for v in vents if v.cup == cup), None)
        if own is not None:
            chosen.setdefault(own.id, own)
    return list(chosen.values()) or list(vents[:1])


def _listed(vents: Sequence[Vent]) -> str:
    ids = [v.id for v in vents]
    return f"vent {ids[0]}" if len(ids) == 1 else f"vents {', '.join(ids[:-1])} and {ids[-1]}"
