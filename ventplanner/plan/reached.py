"""The graph of cavities, openings, vents and passages: through what each cavity reaches the outside."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING

from ventplanner.plan.model import Passage, Plan

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings

OUTSIDE = ""


@dataclass(frozen=True)
class Link:
    """One way between two cavities (ids), or one and the `OUTSIDE`. by: "vent 1", "passage P1", or "opening"."""

    by: str
    a: str
    b: str


@dataclass(frozen=True)
class Step:
    """From one cavity to the next on the way out. by: all links that lead there, each once; to: where, or `OUTSIDE`."""

    by: tuple[str, ...]
    to: str


def free_name(passages: Sequence[Passage]) -> str:
    """The next name of a passage."""
    taken = {p.id for p in passages}
    return next(f"P{n}" for n in count(1) if f"P{n}" not in taken)


def links(findings: Findings, plan: Plan) -> tuple[Link, ...]:
    """All ways of the part and of a plan: its own openings, then vents, then passages."""
    chambers = {c.key: c.id for c in findings.cavities if c.kind == "chamber"}
    found = [Link("opening", c.id, chambers.get(o.beyond, OUTSIDE)) for c in findings.cavities for o in c.openings]
    # The mouth of a cup in no cavity, and ways too many to be measured each.
    with_openings = {link.a for link in found}
    found += [
        Link("opening", c.id, OUTSIDE) for c in findings.cavities if c.kind != "sealed" and c.id not in with_openings
    ]
    found += [Link(f"vent {v.id}", v.cavity, OUTSIDE) for v in plan.vents if v.cavity]
    for passage in plan.passages:
        found.append(Link(f"passage {passage.id}", passage.cavity, passage.to))
        if passage.outer is not None:
            found.append(Link(f"passage {passage.id}", passage.to, OUTSIDE))
    return tuple(found)


def ways_out(cavities: Sequence[str], known: Sequence[Link]) -> dict[str, tuple[Step, ...]]:
    """For each cavity the way to the outside over the fewest others, step by step; none for those that reach it not."""
    between: dict[str, dict[str, list[str]]] = {}
    for link in known:
        for a, b in ((link.a, link.b), (link.b, link.a)):
            by = between.setdefault(a, {}).setdefault(b, [])
            if a != b and link.by not in by:
                by.append(link.by)
    found: dict[str, tuple[Step, ...]] = {OUTSIDE: ()}
    queue = [OUTSIDE]
    for there in queue:  # breadth first (Moore 1959)
        for here in (c for c in cavities if c not in found and c in between.get(there, {})):
            found[here] = (Step(tuple(between[here][there]), there), *found[there])
            queue.append(here)
    return {c: found.get(c, ()) for c in cavities}


def routes(findings: Findings, plan: Plan) -> Mapping[str, tuple[Step, ...]]:
    """`ways_out` of a part with a plan, by the ids of its cavities."""
    return ways_out([c.id for c in findings.cavities], links(findings, plan))


def unreached(findings: Findings, plan: Plan) -> tuple[str, ...]:
    """Cavities from which no way leads to the outside, over their own openings, vents and passages."""
    return tuple(name for name, steps in routes(findings, plan).items() if not steps)
