"""How a part prints under a profile, as the window asks for it: keys, what became of each vent, and what is to do."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ventplanner.analysis.findings import Findings
from ventplanner.app.left import Left
from ventplanner.app.state import AppState, key_of, plan_key
from ventplanner.physics.curing import LEAST_PIXELS
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.venting import tools_of
from ventplanner.printed.engine import AsPrinted, as_printed
from ventplanner.printed.model import CAUSES, PrintedCup, PrintedOpening
from ventplanner.printed.widths import size_that_prints
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

if TYPE_CHECKING:
    from ventplanner.geometry.columns import Tool

LIGHT = (
    "name", "pixel_mm", "layer_height_mm", "penetration_mm", "exposure_ratio", "blur_mm", "base_layers",
    "base_exposure", "base_spread_mm",
)  # fmt: skip
"""What of a profile decides how a part prints, and its name, which the notes tell."""

TOLD_MM = 0.01
"""Causes that took less are not told."""

Drill = tuple[float | str, ...]


@dataclass(frozen=True)
class WayOut:
    """What makes a vent that prints closed print open. opens_mm: the smallest diameter that prints open (LEAST_PIXELS
    wide); as_asked_mm: the smallest that prints as wide as the vent was to be; higher_mm: how much higher it is clear
    of the base layers. None: that is no way out."""

    opens_mm: float | None
    as_asked_mm: float | None
    higher_mm: float | None


@dataclass(frozen=True, eq=False)
class Printed:
    """A part as printed, and where each drill of the plan is in it."""

    found: AsPrinted
    drills: Mapping[Drill, int]

    def of(self, vent: Vent) -> PrintedOpening | None:
        """What becomes of a vent of the plan, whatever it is called; None if it was not drilled."""
        at = self.drills.get(drill_of(vent))
        return None if at is None else self.found.vents[at]

    def openings(self, cavity: str) -> tuple[PrintedOpening, ...]:
        """The openings that a cavity came with."""
        return tuple(o for o in self.found.openings if o.of == cavity)

    def cups(self, cavity: str) -> tuple[PrintedCup, ...]:
        """The cups of a cavity, in the model and as printed."""
        return tuple(c for c in self.found.cups if c.cavity == cavity)


def printed_key(state: AppState, profile: Profile) -> str:
    """Key of a part as printed: the findings, the drills of the accepted vents, and the light of the profile."""
    return key_of("printed", plan_key(state), [getattr(profile, name) for name in LIGHT])


def way_out_key(printed: str, vent: Vent) -> str:
    """Key of a way out for one vent. printed: the key of what it prints like now."""
    return key_of("way out", printed, drill_of(vent))


def drill_of(vent: Vent) -> Drill:
    """What a vent removes, without its countersink: its narrow part is what prints or does not."""
    return vent.legs[0].cut


def printing(
    findings: Findings, plan: Plan, profile: Profile, progress: Progress = silent, before: Printed | None = None
) -> Printed:
    """How a part prints with the vents of a plan. before: an earlier result, whose pixels are used again if they fit.

    All that the pictures of its layers rest on is made here as well, so that nobody waits for it later.
    """
    tools = tools_of(findings, plan)
    part = None if before is None else before.found.part
    found = as_printed(findings, tools, profile, progress, part=part)
    progress("Making its layers ready", 0.0)
    _ = found.printing.opens, found.model.opens
    return Printed(found, {drill_of(vent): k for k, vent in enumerate(plan.drills)})


def closed_vents(printed: Printed, plan: Plan) -> tuple[Vent, ...]:
    """The vents of a plan that print closed."""
    return tuple(v for v in plan.vents if (found := printed.of(v)) is not None and not found.open)


def way_out(printed: Printed, findings: Findings, plan: Plan, vent: Vent, progress: Progress = silent) -> WayOut:
    """What would make a vent print open. Takes seconds: holes of several sizes are printed in thought. Cancels between
    sizes."""
    part = printed.found.part
    tool = tool_of_vent(findings, vent)
    others = [tool_of_vent(findings, v) for v in plan.drills if v.id != vent.id]
    found = printed.of(vent)
    higher = _above_base(printed, tool) if found is not None and found.cause == "base layers" else None
    first, last = (lambda phase, share, k=k: progress(phase, 0.5 * (k + share)) for k in (0, 1))
    opens = size_that_prints(part, tool, LEAST_PIXELS * part.light.pixel, others, first)
    as_asked = None if opens is None else size_that_prints(part, tool, vent.diameter_mm, others, last)
    return WayOut(opens, as_asked, higher)


def _above_base(printed: Printed, tool: Tool) -> float | None:
    """How much higher a drill must stand for its lowest point to be above the base layers, mm, to a tenth."""
    light = printed.found.part.light
    rise = tool.end[2] - tool.start[2]
    length = math.dist(tool.start, tool.end)
    across = tool.radius * math.sqrt(max(0.0, 1.0 - (rise / length) ** 2))
    low = min(tool.start[2], tool.end[2]) - across
    more = light.base * light.layer - low
    return 0.1 * math.ceil(10.0 * more) if more > 0.0 else None


def told_causes(found: PrintedOpening) -> tuple[tuple[str, float], ...]:
    """Which cause took how much of a width, mm, in the order in which they act; what is too little to tell is left
    out."""
    return tuple((cause, found.taken[cause]) for cause in CAUSES if found.taken[cause] >= TOLD_MM)


def shut_by_the_print(printed: Printed, plan: Plan) -> tuple[str, ...]:
    """Cavities that breathe in the model but not as printed, but for those that are left as they are."""
    alone = {cavity for cavity, _ in plan.left_alone}
    worse = {c.cavity for c in printed.found.cups if c.nominal == "breathing" and c.printed != "breathing" and c.cavity}
    return tuple(sorted(worse - alone, key=lambda name: (len(name), name)))


def left_as_printed(printed: Printed, plan: Plan, ways_out: Mapping[str, WayOut]) -> tuple[Left, ...]:
    """What is left to do about how the part prints. ways_out: by id of a vent, as far as they are known."""
    closed = closed_vents(printed, plan)
    found = [Left(_about_vent(printed, vent, ways_out.get(vent.id)), f"vent {vent.id}") for vent in closed]
    alone = {cavity for cavity, _ in plan.left_alone}
    blamed = {vent.cavity for vent in closed}
    for cup in printed.found.cups:
        worse = cup.nominal == "breathing" and cup.printed != "breathing"
        if worse and cup.cavity not in (alone | blamed):
            blamed.add(cup.cavity)
            found.append(_about_cup(printed, cup))
    return tuple(found)


def _about_vent(printed: Printed, vent: Vent, way: WayOut | None) -> str:
    opening = printed.of(vent)
    cause = f"{opening.cause}, " if opening is not None and opening.cause else ""
    told = f"Vent {vent.id} would print closed ({cause}estimate)"
    if way is None:
        return f"{told}: make it wider, or put it elsewhere."
    size = "" if way.opens_mm is None else f"{way.opens_mm:.1f} mm would print open"
    higher = "" if way.higher_mm is None else f"put it {way.higher_mm:.1f} mm higher"
    ways = ", or ".join(text for text in (size, higher) if text)
    return f"{told}: {ways}." if ways else f"{told}, also when it is 5 mm wider: put it elsewhere."


def _about_cup(printed: Printed, cup: PrintedCup) -> Left:
    who = cup.cavity or "A cup in no cavity"
    state = "sealed" if cup.printed == "sealed" else "late"
    low = "" if cup.from_mm is None else f" from {cup.from_mm:.1f} mm"
    closed = [o for o in printed.openings(cup.cavity) if not o.open]
    why = f": its opening of {closed[0].nominal_mm:.1f} mm prints closed" if closed else ""
    how = f"would print {state}{low}" if state == "sealed" else f"would open too late as printed,{low}"
    target = f"cup {cup.cup}" if cup.cup else f"cavity {cup.cavity}" if cup.cavity else ""
    return Left(f"{who} breathes in the model, but {how} (estimate){why}.", target)
