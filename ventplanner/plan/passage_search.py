"""The search for a passage for one cup: what it is told, what makes a passage good, and what it must not do.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.cups import Cup, Cups
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.places import Places
from ventplanner.analysis.supports import Obstacles
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules
from ventplanner.plan import candidates
from ventplanner.plan.fitting import (
    KEPT_CLEAR,
    PLATE_RIM_MM,
    SUPPORT_CLEAR_MM,
    TOUCHES_SUPPORT,
    WELL_OPEN,
    Fit,
    as_vent,
    in_the_supports,
    tool_of_vent,
)
from ventplanner.plan.model import Passage
from ventplanner.plan.passage_field import Field
from ventplanner.plan.passage_fit import (
    BESIDE,
    NOT_CLEAN,
    TOO_NEAR,
    Bored,
    Flags,
    as_passage,
    is_clean,
    thin_beside,
    touches_support,
)
from ventplanner.plan.refusal import A_CUP_ITSELF, OPENS_ANOTHER, TOO_LATE, Refusal
from ventplanner.plan.spacing import LIGAMENT_MM, gap_of_tools, thinnest_between

COMFORT_MM, CLEARANCE_WEIGHT = 2.0, 2.0
"""Each mm that is missing to so much material all round is as bad as this many mm of length."""

LEVEL_DEG, LEVEL_COST = 10.0, 1.0
"""A passage as level as this, or more so, does not drain by itself; a level one is as bad as this many mm more."""

BLOCKED_WEIGHT, HALF_BLOCKED_COST = 8.0, 1000.0
"""The share that runs into the floor of the cup, in mm of length that would be as bad: what lies below the floor is of
no use. One that runs half into the floor of its cup comes after all that do not, as with vents."""

NEAR_HOLE = "it would come too near another hole"


@dataclass(frozen=True, eq=False)
class Found:
    """A passage, and the cups as they are with it."""

    passage: Passage
    after: Cups


@dataclass(eq=False)
class Search:
    """The search for one cup. tools: what is drilled already. cavity, cup_name: as the findings name it; inside: only
    passages to the same cavity."""

    findings: Findings
    current: Cups
    number: int
    cavity: str
    cup_name: str
    rules: VentRules
    tools: tuple[Tool, ...]
    inside: bool = False
    refused: Counter[str] = field(default_factory=Counter)
    widest_miss: tuple[float, FloatArray | None] = (-np.inf, None)
    """mm of material beside the best one that was too near to something, and the middle of it."""
    shortest_miss: tuple[float, FloatArray | None] = (np.inf, None)
    """mm of the shortest way that was too long, and the middle of it."""

    @property
    def cup(self) -> Cup:
        """The cup that is to breathe."""
        return self.current.cups[self.number]

    @cached_property
    def limit(self) -> float:
        """Build height by which the space that a passage leads to must breathe."""
        return self.cup.from_height + self.findings.options.late_mm

    @cached_property
    def places(self) -> Places:
        """Cavities by place."""
        return Places.of(self.findings)

    @cached_property
    def home(self) -> int:
        """The place of the cup's cavity in the findings, -1 for none."""
        return next((k for k, c in enumerate(self.findings.cavities) if c.id == self.cavity), -1)

    @cached_property
    def cells(self) -> Field:
        """What is where about the start of the cup."""
        reach = self.rules.longest_wall_mm + 2.0 * self.rules.diameter_mm + 2.0
        spread = float(np.linalg.norm(self.targets - self.cup.start, axis=1).max())
        return Field.around(self.findings, self.cup.start, reach + min(spread, 2.0 * reach))

    @cached_property
    def targets(self) -> FloatArray:
        """(k, 3) places on the floor of the cup near its start."""
        return candidates.targets_near_start(self.current.tree, self.current, self.number)

    @cached_property
    def breathing_space(self) -> FloatArray:
        """(k, 3) build points in hollows of the part that breathe by `limit`, at about that height or below."""
        grid = self.cells
        points = grid.points(grid.label > 0)
        points = points[points[:, 2] <= self.limit + self.rules.diameter_mm]
        label = grid.at(points)
        return np.asarray(points[self.breathes(points) & self.may_lead_to(label - 1)])

    def breathes(self, points: FloatArray) -> np.ndarray:
        """(k,) bool: points in free space that is joined to the outside by `limit`."""
        tree = self.current.tree
        run = tree.runs.run_at(points)
        return np.asarray((run >= 0) & (tree.opens[tree.branch_of_run[np.maximum(run, 0)]] <= self.limit))

    def may_lead_to(self, place: NDArray[np.integer]) -> np.ndarray:
        """(k,) bool: places of cavities that a passage may lead to."""
        return np.asarray(place == self.home if self.inside else place >= 0)

    def own_faces(self, to: int) -> Flags:
        """(m,) bool: faces of the two hollows that a passage joins."""
        own = np.zeros(len(self.findings.part.faces), dtype=bool)
        for place in {self.home, to} - {-1}:
            own[self.findings.cavities[place].faces] = True
        return own

    def objection(self, bored: Bored, to: int) -> str:
        """Why a fitted passage will not do, in a few words, mostly with the place (`Refusal`; of what costs more to
        find, see `passage_places`); "" if it will, as far as its shape goes."""
        wall = self.rules.passage_wall_mm
        if bored.clearance < wall:
            if bored.clearance > self.widest_miss[0]:
                self.widest_miss = (bored.clearance, bored.stops.mean(axis=0))
            return TOO_NEAR
        legs = len(bored.stops) - 1
        for k, (a, b) in enumerate(pairwise(bored.stops)):
            knees = (1 if k > 0 else 0) | (2 if k < legs - 1 else 0)
            if (thin := thin_beside(self.findings, a, b, bored.radius, wall, knees)) is not None:
                return Refusal(BESIDE, thin)
        if touches_support(self.findings, bored.stops, bored.radius):
            return TOUCHES_SUPPORT
        passage = as_passage(self.findings, bored, ("P", "", "", ""), "")
        tools = [tool_of_vent(self.findings, leg) for leg in passage.legs]
        if told := self._in_the_way(tools):
            return told
        return "" if is_clean(self.findings, passage.legs) else NOT_CLEAN

    def _in_the_way(self, tools: list[Tool]) -> str:
        """What the legs of a passage meet that they must not, with the place; "" for nothing."""
        if told := next(filter(None, (too_near_others(tool, self.tools) for tool in tools)), ""):
            return told
        kept = self.findings.kept_clear
        cuts = [] if kept is None else [at for tool in tools if (at := kept.cut_by(tool)) is not None]
        if cuts:
            return Refusal(KEPT_CLEAR, cuts[0])
        if told := passage_in_the_supports(self.findings.obstacles, tools):
            return told
        lowest = min((_lowest(t) for t in tools), key=lambda at: float(at[2]))
        if self.findings.pose.on == "plate" and lowest[2] < PLATE_RIM_MM:
            return Refusal("it would break through the face on the plate", lowest)
        return ""

    def cost(self, bored: Bored, lost: float) -> float:
        """mm of length that would be as bad."""
        half_blocked = HALF_BLOCKED_COST if bored.blocked > WELL_OPEN else 0.0
        return (
            half_blocked
            + BLOCKED_WEIGHT * bored.blocked
            + float(cost_of(bored.length, lost, bored.clearance, slope_of(bored.stops)))
        )

    def confirmed(self, bored: Bored, to: int, lost: float, name: str, out: Fit | None = None) -> Found | str:
        """The passage, if with it the cup breathes and nothing that is sealed was opened that it does not lead to; or
        why it will not do, in a few words. out: where it goes on to the outside."""
        to_name = self.findings.cavities[to].id
        told = self._reason(bored, to_name, lost)
        passage = as_passage(self.findings, bored, (name, self.cavity, self.cup_name, to_name), told)
        if out is not None:
            passage = self._going_out(passage, out)
        own = tuple(tool_of_vent(self.findings, drill) for drill in passage.drills)
        after = self.findings.scene.cups((*self.tools, *own))
        hair = np.array([0.0, 0.0, 1e-4])
        number = int(after.cup_at((self.cup.start + hair)[None])[0])
        if number >= 0 and after.cups[number].state(self.findings.options) != "breathing":
            return TOO_LATE
        bad = [c.start for c in after.cups if c.state(self.findings.options) != "breathing"]
        if (self.current.tree.runs.run_at(np.array(bad).reshape(-1, 3) + hair) < 0).any():
            return A_CUP_ITSELF  # such as one whose knee hangs lowest
        sealed = [c for k, c in enumerate(self.current.cups) if c.to_height is None and k != self.number]
        others = np.array([c.start for c in sealed]).reshape(-1, 3) + hair
        place = self.places.at(others)
        apart = (place != self.home) & ((place != to) if out is not None else True)
        now = after.cup_at(others[apart])
        if any(k < 0 or after.cups[k].to_height is not None for k in now):
            return OPENS_ANOTHER
        return Found(passage, after)

    def _going_out(self, passage: Passage, out: Fit) -> Passage:
        wall = f"{out.wall:.1f} mm of wall"
        told = f"The way out of passage {passage.id}, in one line with it: an extra hole that is seen, through {wall}."
        outer = as_vent(self.findings, out, "", (passage.to, "", "vent"), told)
        at = ", ".join(f"{x:.1f}" for x in outer.entry_mm)
        seen = f" Cavity {passage.to} does not breathe there by itself: it goes on in the same line through {wall},"
        seen += f" an extra hole that is seen at ({at}) mm."
        return replace(passage, outer=outer, reason=passage.reason + seen).called(passage.id)

    def _reason(self, bored: Bored, to: str, lost: float) -> str:
        where = "at its start" if lost < 0.1 else f"{lost:.1f} mm above its start"
        who = f"cup {self.cup_name}" if self.cup_name else "a cup"
        into = f"the rest of cavity {to}" if to == self.cavity else f"cavity {to}"
        bent = "" if len(bored.stops) == 2 else ", in two straight legs"
        return (
            f"Joins {who} to {into} inside, {where}, through {bored.length:.1f} mm of material{bent};"
            f" {bored.clearance:.1f} mm stay round it."
        )


def cost_of(
    length: FloatArray | float, lost: FloatArray | float, clearance: FloatArray | float, slope: FloatArray | float
) -> FloatArray:
    """mm of length that would be as bad as a passage of this length, height lost (mm), clearance (mm), slope (rad)."""
    tight = np.maximum(COMFORT_MM - np.asarray(clearance), 0.0)
    level = np.maximum(1.0 - np.abs(slope) / np.radians(LEVEL_DEG), 0.0)
    return np.asarray(length + candidates.HEIGHT_WEIGHT * lost + CLEARANCE_WEIGHT * tight + LEVEL_COST * level)


def slope_of(stops: FloatArray) -> float:
    """The least slope of a passage's legs to the plate, rad."""
    legs = np.diff(stops, axis=0)
    return float(np.arcsin(np.clip(np.abs(legs[:, 2]) / np.linalg.norm(legs, axis=1), 0.0, 1.0)).min())


def too_near_others(tool: Tool, others: Sequence[Tool]) -> str:
    """That a hole leaves no ligament to another one, with the place (`Refusal`); "" if it does to all."""
    near = next((other for other in others if gap_of_tools(tool, other) < LIGAMENT_MM), None)
    return "" if near is None else Refusal(NEAR_HOLE, thinnest_between(tool, near))


def passage_in_the_supports(obstacles: Obstacles | None, tools: Sequence[Tool]) -> str:
    """What supports from a second file have against the legs of a passage (build axes, from the space that it leads to
    on), with the place (`Refusal`); "" if nothing: they must not touch it, nor stand straight before that mouth."""
    told = in_the_supports(obstacles, tools[0])
    if told or obstacles is None:
        return told
    for tool in tools[1:]:
        start, end, reach = np.array(tool.start), np.array(tool.end), tool.radius + SUPPORT_CLEAR_MM
        if obstacles.distance(start, end, reach) < reach:
            return Refusal(TOUCHES_SUPPORT, obstacles.nearest(start, end, reach))
    return ""


def _lowest(tool: Tool) -> FloatArray:
    """(3,) the lowest point of a round tool."""
    a, b = np.asarray(tool.start), np.asarray(tool.end)
    along = (b - a) / np.linalg.norm(b - a)
    down = along[2] * along - np.array([0.0, 0.0, 1.0])
    low = a if a[2] < b[2] else b
    return np.asarray(low + tool.radius / max(float(np.linalg.norm(down)), 1e-9) * down)
