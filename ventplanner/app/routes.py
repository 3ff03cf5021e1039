"""Through what a cavity breathes and to where, in words."""

from __future__ import annotations

from collections.abc import Sequence

from ventplanner.plan.reached import OUTSIDE, Step

NO_WAY_OUT = "no way out yet"


def in_short(steps: Sequence[Step]) -> str:
    """ "out by 1, 2"; "out by P1, A, 1, 2": ids in the order of the way. `NO_WAY_OUT` if there is none."""
    if not steps:
        return NO_WAY_OUT
    named = [name for step in steps for name in (*_ids(step.by), *([step.to] if step.to != OUTSIDE else ()))]
    return f"out by {', '.join(named)}"


def _ids(by: Sequence[str]) -> list[str]:
    """Ids alone; the part's own openings together."""
    return list(dict.fromkeys("openings" if name == "opening" else name.split(" ", 1)[1] for name in by))


def in_words(steps: Sequence[Step]) -> str:
    """ "It leads to the outside by vents 1 and 2.", "It leads by passage P1 into A, and from there …"."""
    if not steps:
        return "Nothing leads from it to the outside yet."
    *before, last = steps
    out = f"to the outside by {_together(last.by)}"
    if not before:
        return f"It leads {out}."
    first, *rest = before
    then = [f"by {_together(step.by)} into {step.to}" for step in rest]
    return f"It leads by {_together(first.by)} into {first.to}, and from there {', '.join([*then, out])}."


def _together(by: Sequence[str]) -> str:
    """ "its own openings, vents 1 and 2 and passage P1"."""
    parts = ["openings of the part"] if "opening" in by else []
    for kind in ("vent", "passage"):
        ids = [name.split(" ", 1)[1] for name in by if name.startswith(f"{kind} ")]
        if ids:
            parts.append(f"{kind}{'s' if len(ids) > 1 else ''} {_and(ids)}")
    return _and(parts)


def _and(texts: Sequence[str]) -> str:
    return f"{', '.join(texts[:-1])} and {texts[-1]}" if len(texts) > 1 else texts[0]
