"""The whole part in one sentence: which cavities are sealed, open late or breathe, with the accepted vents."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ventplanner.app.left import is_closed_by_plate, too_late_mm
from ventplanner.app.outlook import Outlook
from ventplanner.plan.model import Plan

MOST_NAMES = 5
"""More cavities of one kind are counted instead of named."""

MOST_LATE = 2
"""Of so many cavities it is said how much too late they open."""

Mark = Literal["sealed", "late", "breathing", "left", "none"]


@dataclass(frozen=True)
class Verdict:
    """mark: the worst state, "left" if only cavities left as they are do not breathe, "none" without any cavity."""

    mark: Mark
    text: str


def verdict(outlook: Outlook, plan: Plan) -> Verdict:
    """The part as it prints with the vents of the outlook. plan: tells the cavities that are left as they are."""
    names = [c.id for c in outlook.findings.cavities]
    alone = {cavity for cavity, _ in plan.left_alone}
    groups: dict[str, list[str]] = {"sealed": [], "plate": [], "late": [], "left": [], "breathing": []}
    late: list[str] = []
    left_late: list[str] = []
    for name in (*names, ""):
        bad = outlook.bad(name)
        kind: str = "left" if name in alone else outlook.state(name)
        if kind == "sealed" and any(is_closed_by_plate(cup) for _, cup in bad):
            kind = "plate"
        if name in alone and outlook.state(name) == "late":  # that it is left does not hide it
            worst = max(too_late_mm(cup) for _, cup in bad)
            left_late.append(f"{name} is left as it is, opens {worst:.1f} mm too late")
            continue
        if kind == "late":
            late.append(f"{name or _NOWHERE} opens {too_late_mm(bad[0][1]):.1f} mm too late")
        if name or bad:
            groups[kind].append(name or _NOWHERE)
    if not any(groups.values()) and not left_late:
        return Verdict("none", _nothing(outlook))
    groups["late"] = groups["late"] if len(late) > MOST_LATE else []
    parts = _parts(groups, (late if len(late) <= MOST_LATE else []) + left_late, len(names))
    number = f"{len(names)} {'cavity' if len(names) == 1 else 'cavities'}"
    return Verdict(_worst(groups, bool(late), bool(left_late)), f"{number}: {', '.join(parts)}")


_NOWHERE = "a cup in no cavity"


def _worst(groups: dict[str, list[str]], late: bool, left_late: bool) -> Mark:
    if groups["sealed"] or groups["plate"]:
        return "sealed"
    if late:
        return "late"
    return "breathing" if groups["breathing"] or not (groups["left"] or left_late) else "left"


def _parts(groups: dict[str, list[str]], late: list[str], number: int) -> list[str]:
    """The clauses, worst first; what breathes comes last and may be "all others"."""
    parts = []
    for kind, one, many in (
        ("sealed", "is sealed", "are sealed"),
        ("plate", "is closed by the plate", "are closed by the plate"),
        ("late", "opens too late", "open too late"),
    ):
        if groups[kind]:
            parts.append(f"{_who(groups[kind], number)} {one if len(groups[kind]) == 1 else many}")
    parts += late
    if alone := groups["left"]:
        them = "is left as it is" if len(alone) == 1 else "are left as they are"
        parts.append(f"{_who(alone, number)} {them}")
    if breathing := groups["breathing"]:
        if len(breathing) > 1 and parts:
            parts.append("all others breathe")
        else:
            parts.append(f"{_who(breathing, number)} {'breathes' if len(breathing) == 1 else 'breathe'}")
    return parts


def _who(names: Sequence[str], number: int) -> str:
    if len(names) == number > 1:
        return "both" if number == 2 else "all"
    if len(names) > MOST_NAMES:
        return str(len(names))
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]


def _nothing(outlook: Outlook) -> str:
    filtered = outlook.findings.cups.filtered_count
    if not filtered:
        return "No cavity and no cup: the part is solid, or open everywhere"
    smaller = "1 smaller one is" if filtered == 1 else f"{filtered} smaller ones are"
    return f"No cavity and no cup above the filter; {smaller} left out"
