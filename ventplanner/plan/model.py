"""What is planned for a part: vents, and cavities left as they are. Frozen values; operations return new ones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Literal

from ventplanner.geometry.bore import Bore
from ventplanner.geometry.outline import ROUND, Outline
from ventplanner.geometry.pose import Pose
from ventplanner.options import AnalysisOptions

Point = tuple[float, float, float]
Kind = Literal["vent", "widen"]

SINK = " countersink"
"""Behind the id of a vent: the leg that flares its entry."""


@dataclass(frozen=True)
class Countersink:
    """A flared entry: `width_mm` across at the outer skin, where the axis meets it, and down to the width of the vent
    `depth_mm` further in. A slot and a square grow by as much on every side."""

    width_mm: float
    depth_mm: float

    def spread(self, radius: float) -> float:
        """mm by which it stands outside the hole all round, at the skin; radius: half the width of the hole."""
        return 0.5 * self.width_mm - radius

    def angle_deg(self, radius: float) -> float:
        """Angle between opposite sides, as on the drill, in degrees."""
        return math.degrees(2.0 * math.atan2(self.spread(radius), self.depth_mm))


@dataclass(frozen=True)
class Vent:
    """A hole through one wall, or (`kind` "widen") an existing opening made wider.

    `entry_mm` and `exit_mm` are the points where the axis meets the outer and the inner skin, in mm along the file's
    axes; `axis` is the unit vector from outside to inside. The drill itself runs from `entry - axis * before_mm` to
    `exit + axis * beyond_mm`, a little longer than the wall on both sides. `diameter_mm` is the diameter of a round
    hole, the width of a slot, the side of a square one (`outline`, in the file's axes). `spread_mm`: only of the leg
    that is a countersink, see `legs`.
    """

    id: str
    cavity: str
    cup: str
    kind: Kind
    entry_mm: Point
    exit_mm: Point
    axis: Point
    diameter_mm: float
    wall_mm: float
    before_mm: float
    beyond_mm: float
    reason: str = ""
    outline: Outline = ROUND
    countersink: Countersink | None = None
    spread_mm: float = 0.0

    @property
    def radius_mm(self) -> float:
        """Half the diameter."""
        return 0.5 * self.diameter_mm

    @property
    def bore(self) -> Bore:
        """Its drill, in the file's axes, without the countersink."""
        return Bore(self.start_mm, self.end_mm, self.radius_mm, self.outline, self.spread_mm)

    @property
    def cut(self) -> tuple[float | str, ...]:
        """All that tells what is cut, for keys."""
        outline, sink = self.outline, self.countersink
        more = () if outline.is_round else (outline.shape, outline.length_mm, *outline.along)
        flare = () if sink is None else ("countersink", sink.width_mm, sink.depth_mm)
        leans = (self.spread_mm,) if self.spread_mm else ()
        return (*self.start_mm, *self.end_mm, self.diameter_mm, *more, *flare, *leans)

    @property
    def legs(self) -> tuple[Vent, ...]:
        """Its straight holes: itself without the countersink, then that."""
        if self.countersink is None:
            return (self,)
        sink, narrow = self.countersink, replace(self, countersink=None)
        slope = sink.spread(self.radius_mm) / sink.depth_mm
        # It goes on within the hole that it leads to, ever narrower: their walls cross, and lie nowhere in each other.
        on = min(0.25 * self.diameter_mm / slope, 0.5 * max(self.wall_mm - sink.depth_mm, 0.0))
        end = sink.depth_mm + on
        x, y, z = (p + a * end for p, a in zip(self.entry_mm, self.axis, strict=True))
        by = -slope * on
        flare = replace(
            narrow,
            id=f"{self.id}{SINK}",
            exit_mm=(x, y, z),
            diameter_mm=self.diameter_mm + 2.0 * by,
            outline=self.outline.grown(by),
            wall_mm=end,
            beyond_mm=0.0,
            spread_mm=slope * (end + self.before_mm),
        )
        return (narrow, flare)

    @property
    def start_mm(self) -> Point:
        """Outer end of the drill."""
        x, y, z = (p - a * self.before_mm for p, a in zip(self.entry_mm, self.axis, strict=True))
        return (x, y, z)

    @property
    def end_mm(self) -> Point:
        """Inner end of the drill."""
        x, y, z = (p + a * self.beyond_mm for p, a in zip(self.exit_mm, self.axis, strict=True))
        return (x, y, z)


@dataclass(frozen=True)
class Passage:
    """A round hole inside the part: from where a cup starts to free space that breathes there.

    `points_mm` run from the skin of the cup to the skin of the space it leads to, in mm along the file's axes: two of
    them, or three where two straight legs meet. `to` is the cavity it leads to. `before_mm` and `beyond_mm` are how far
    the drill stands out there and in the cup. `clearance_mm` is the least material between its wall and anything but
    the two spaces that it joins.

    `outer` is None, or, where the space it leads to does not breathe there by itself, the hole that goes on in the same
    line from that space to the outside: one straight drill through both, and an extra hole that is seen.
    """

    id: str
    cavity: str
    cup: str
    to: str
    points_mm: tuple[Point, ...]
    diameter_mm: float
    clearance_mm: float
    before_mm: float
    beyond_mm: float
    reason: str = ""
    outer: Vent | None = None

    @property
    def radius_mm(self) -> float:
        """Half the diameter."""
        return 0.5 * self.diameter_mm

    def called(self, name: str) -> Passage:
        """The same under another id."""
        return replace(self, id=name, outer=None if self.outer is None else replace(self.outer, id=f"{name}-out"))

    @property
    def drills(self) -> tuple[Vent, ...]:
        """All straight holes that are cut for it: `outer`, if there is one, and its legs."""
        return self.legs if self.outer is None else (self.outer, *self.legs)

    @property
    def length_mm(self) -> float:
        """mm of material along its axis."""
        return sum(math.dist(a, b) for a, b in pairwise(self.points_mm))

    @property
    def legs(self) -> tuple[Vent, ...]:
        """Its straight holes inside, from the space that it leads to on to the cup: one, or two that reach so far
        beyond their knee that they meet all round."""
        stops = self.points_mm[::-1]
        knee = 0.0 if len(stops) < 3 else knee_reach(stops, self.radius_mm)
        legs = []
        for k, (start, end) in enumerate(pairwise(stops)):
            first, last = k == 0, k == len(stops) - 2
            length = math.dist(start, end)
            x, y, z = ((b - a) / length for a, b in zip(start, end, strict=True))
            name = self.id if first and last else f"{self.id}{'ab'[k]}"
            before, beyond = self.before_mm if first else knee, self.beyond_mm if last else knee
            legs.append(
                Vent(
                    name, self.cavity, self.cup, "vent", start, end, (x, y, z), self.diameter_mm, length, before, beyond
                )
            )
        return tuple(legs)


def knee_reach(stops: Sequence[Point], radius: float) -> float:
    """mm that each of two legs reaches beyond their meeting, so that no edge stands between them: the mitre of two
    tubes, r tan(turn / 2); stops: (3,) points of the axis."""
    a, b = ([q - p for p, q in zip(stops[k], stops[k + 1], strict=True)] for k in (0, 1))
    cosine = sum(p * q for p, q in zip(a, b, strict=True)) / (math.hypot(*a) * math.hypot(*b))
    turn = math.acos(min(max(cosine, -1.0), 1.0))
    return radius * min(math.tan(0.5 * min(turn, 2.2)), 2.0)


@dataclass(frozen=True)
class NoVent:
    """A cup for which no vent was found: why, and the closest miss (a sentence).

    join: a passage inside the part that would let it breathe; no_join: why there is none, if one was looked for.
    """

    cavity: str
    cup: str
    reason: str
    closest: str = ""
    join: Passage | None = None
    no_join: str = ""

    def __post_init__(self) -> None:
        for name in ("reason", "closest", "no_join"):  # plain words: files hold no places of refusals
            object.__setattr__(self, name, str(getattr(self, name)))


@dataclass(frozen=True)
class Plan:
    """All vents and passages of a part, the cups that got none, and the cavities left as they are (id to note).

    part: digest of the solid it was made for; pose, options: how that was analysed. "" and None if not known.
    """

    vents: tuple[Vent, ...] = ()
    missing: tuple[NoVent, ...] = ()
    left_alone: tuple[tuple[str, str], ...] = field(default=())
    part: str = ""
    pose: Pose | None = None
    options: AnalysisOptions | None = None
    passages: tuple[Passage, ...] = ()

    @property
    def drills(self) -> tuple[Vent, ...]:
        """Every straight hole that is cut: the vents, those of the passages, then the countersinks of the vents."""
        passages = (drill for passage in self.passages for drill in passage.drills)
        both = [vent.legs for vent in self.vents]
        return (*(legs[0] for legs in both), *passages, *(leg for legs in both for leg in legs[1:]))

    def with_vent(self, vent: Vent) -> Plan:
        """The plan with one more vent; an existing one of the same id is replaced in its place."""
        if any(v.id == vent.id for v in self.vents):
            return replace(self, vents=tuple(vent if v.id == vent.id else v for v in self.vents))
        return replace(self, vents=(*self.vents, vent))

    def without_vent(self, vent_id: str) -> Plan:
        """The plan without the vent of this id."""
        return replace(self, vents=tuple(v for v in self.vents if v.id != vent_id))

    def with_passage(self, passage: Passage) -> Plan:
        """The plan with one more passage; an existing one of the same id is replaced in its place."""
        if any(p.id == passage.id for p in self.passages):
            return replace(self, passages=tuple(passage if p.id == passage.id else p for p in self.passages))
        return replace(self, passages=(*self.passages, passage))

    def without_passage(self, passage_id: str) -> Plan:
        """The plan without the passage of this id."""
        return replace(self, passages=tuple(p for p in self.passages if p.id != passage_id))
