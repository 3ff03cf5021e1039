"""The graph of cavities, passages and vents: which cavities reach the outside."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count

from ventplanner.analysis.findings import Findings
from ventplanner.plan.model import Passage, Plan


def free_name(passages: Sequence[Passage]) -> str:
    """The next name of a passage."""
    taken = {p.id for p in passages}
    return next(f"P{n}" for n in count(1) if f"P{n}" not in taken)


def unreached(findings: Findings, plan: Plan) -> tuple[str, ...]:
    """Cavities from which no way leads to the outside, over their own openings, vents and passages."""
    reached = {c.id for c in findings.cavities if c.kind != "sealed"} | {v.cavity for v in plan.vents}
    joined = [{p.cavity, p.to} for p in plan.passages]
    while more := [pair for pair in joined if pair & reached and not pair <= reached]:
        reached |= more[0]
    return tuple(c.id for c in findings.cavities if c.id not in reached)
