"""What is planned for a part: vents, and cavities left as they are. Frozen values; operations return new ones."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from ventplanner.geometry.pose import Pose
from ventplanner.options import AnalysisOptions

Point = tuple[float, float, float]
Kind = Literal["vent", "widen"]


@dataclass(frozen=True)
class Vent:
    """A round hole through one wall, or (`kind` "widen") an existing opening made wider.

    `entry_mm` and `exit_mm` are the points where the axis meets the outer and the inner skin, in mm along the file's
    axes; `axis` is the unit vector from outside to inside. The drill itself runs from `entry - axis * before_mm` to
    `exit + axis * beyond_mm`, a little longer than the wall on both sides.
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

    @property
    def radius_mm(self) -> float:
        """Half the diameter."""
        return 0.5 * self.diameter_mm

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
class NoVent:
    """A cup for which no vent was found: why, and the closest miss (a sentence)."""

    cavity: str
    cup: str
    reason: str
    closest: str = ""


@dataclass(frozen=True)
class Plan:
    """All vents of a part, the cups that got none, and the cavities left as they are (id to note).

    part: digest of the solid it was made for; pose, options: how that was analysed. "" and None if not known.
    """

    vents: tuple[Vent, ...] = ()
    missing: tuple[NoVent, ...] = ()
    left_alone: tuple[tuple[str, str], ...] = field(default=())
    part: str = ""
    pose: Pose | None = None
    options: AnalysisOptions | None = None

    def with_vent(self, vent: Vent) -> Plan:
        """The plan with one more vent; an existing one of the same id is replaced in its place."""
        if any(v.id == vent.id for v in self.vents):
            return replace(self, vents=tuple(vent if v.id == vent.id else v for v in self.vents))
        return replace(self, vents=(*self.vents, vent))

    def without_vent(self, vent_id: str) -> Plan:
        """The plan without the vent of this id."""
        return replace(self, vents=tuple(v for v in self.vents if v.id != vent_id))
