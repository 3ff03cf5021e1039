"""What the 3-D view and the breathing chart show: one frozen value, made anew whenever anything changes.

Everything is in build axes: mm, z up from the part's lowest point (z = 0), the plate at z = -gap. Arrays are read-only
once they are in here. Who shows a picture compares it with the one before by identity of its pieces, so whoever makes
one reuses the pieces that did not change.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np

from ventplanner.geometry.bore import Bore
from ventplanner.geometry.outline import ROUND, Outline
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.plan.model import Kind, Point

CavityState = Literal["sealed", "late", "breathing"]
VentStatus = Literal["proposed", "accepted"]


class _ReadOnly:
    """A frozen dataclass whose arrays nobody can write to."""

    def __post_init__(self) -> None:
        for each in fields(self):  # type: ignore[arg-type]  # every heir is a dataclass
            value = getattr(self, each.name)
            if isinstance(value, np.ndarray):
                # A view, so that the array of whoever made it stays as it is.
                frozen = value.view() if value.flags.writeable else value
                frozen.flags.writeable = False
                object.__setattr__(self, each.name, frozen)


@dataclass(frozen=True, eq=False)
class Mesh(_ReadOnly):
    """Triangles. `key` is the same for the same triangles; vertices: (n, 3) float64 mm; faces: (m, 3) int32."""

    key: str
    vertices: FloatArray
    faces: IntArray


@dataclass(frozen=True, eq=False)
class ShownCavity(_ReadOnly):
    """A cavity. `colour` counts from 0 through the palette; `faces` (k,) int32 are its faces in the mesh `part`.

    label_at: (3,) float64, a point inside it, where its letter is written. late_mm: how much too late it opens, in mm.
    """

    id: str
    colour: int
    state: CavityState
    left_alone: bool
    faces: IntArray
    label_at: FloatArray
    late_mm: float = 0.0


@dataclass(frozen=True)
class ShownVent:
    """A drill. `start` and `end` are its outer and inner end, `entry` where its axis meets the skin; diameter in mm.

    inside: it is a leg of a passage, and bears the passage's id. outline: in build axes; of a slot the diameter is its
    width. flare: the countersink of its entry.
    """

    id: str
    cavity: str
    status: VentStatus
    kind: Kind
    start: Point
    end: Point
    diameter: float
    entry: Point
    inside: bool = False
    outline: Outline = ROUND
    flare: Bore | None = None

    @property
    def bore(self) -> Bore:
        """Its drill, without the countersink."""
        return Bore(self.start, self.end, 0.5 * self.diameter, self.outline)

    @property
    def word(self) -> str:
        """What a click on it is called: the same words as `Picture.selected`."""
        if self.inside:
            return f"{'passage' if self.status == 'accepted' else 'joining'} {self.id}"
        return f"{'vent' if self.status == 'accepted' else 'proposal'} {self.id}"


@dataclass(frozen=True, eq=False)
class Band(_ReadOnly):
    """Sealed area of one cavity in mm2 at each of `Picture.heights`, without vents and with the accepted ones.

    cavity: its id; "" gathers what belongs to no cavity that is shown.
    """

    cavity: str
    colour: int
    without: FloatArray
    with_vents: FloatArray


@dataclass(frozen=True, eq=False)
class ShownFlow(_ReadOnly):
    """How hard the cavities suck at each of `heights` ((k,) float64, rising, mm), an estimate.

    suction: kPa, the worst of each cavity's rooms. force: N, of all of its rooms together. limit: of the profile, kPa.
    air: pressure of the air, kPa, which no suction passes. reach: kPa, the largest steady suction of what breathes with
    the accepted vents: the scale goes so far. current: whether it is of the present plan and profile.
    """

    heights: FloatArray
    suction: tuple[Band, ...]
    force: tuple[Band, ...]
    limit: float
    air: float
    reach: float = 0.0
    current: bool = True


@dataclass(frozen=True, eq=False)
class ShownPrinted(_ReadOnly):
    """What the chart shows as printed, with the present plan and profile: `heights`, `bands` and `flow` as those of a
    picture. What is without vents is that of the model."""

    heights: FloatArray
    bands: tuple[Band, ...]
    flow: ShownFlow


@dataclass(frozen=True, eq=False)
class ShownKept(_ReadOnly):
    """A place of a vent that is kept for comparing, in the model.

    name, here: what it and the present place are called. cavity: whose curves they are. heights: (n,) float64, rising,
    mm; area: (n,) mm2 sealed of that cavity with the vent there. flow: with the vent there, None if it is not known.
    """

    name: str
    here: str
    cavity: str
    heights: FloatArray
    area: FloatArray
    flow: ShownFlow | None


@dataclass(frozen=True, eq=False)
class ShownSections(_ReadOnly):
    """Material in each layer of a part that was hollowed, mm2 at each of `heights` ((k,) float64, rising, mm): one
    band, `without` before that and `with_vents` now."""

    heights: FloatArray
    bands: tuple[Band, ...]


@dataclass(frozen=True, eq=False)
class Picture(_ReadOnly):
    """The part as it came, the part with the accepted vents once that is computed, and what was found and planned.

    height: build height of the part's highest point, mm. gap: height of the part's lowest point above the plate, mm.
    heights: (n,) float64, rising, mm. selected: "" | "cavity A" | "cup A1" | "vent 3" | "proposal 3" | "passage P1"
    | "joining P1". stale: the
    findings belong to another pose or other options and are being computed anew; halted: they are not, the user
    cancelled that or it failed. flow: None before it is known; flow_coming: an answer about it is on the way. printed,
    printed_coming: the same of the curves as printed. supports: those of a second file. kept: a place of a vent that
    the present one is compared with. sections: of a part that was hollowed in this pose.
    """

    part: Mesh
    drilled: Mesh | None
    height: float
    gap: float
    on: Literal["plate", "supports"]
    cavities: tuple[ShownCavity, ...]
    vents: tuple[ShownVent, ...]
    heights: FloatArray
    bands: tuple[Band, ...]
    selected: str = ""
    stale: bool = False
    halted: bool = False
    flow: ShownFlow | None = None
    flow_coming: bool = False
    printed: ShownPrinted | None = None
    printed_coming: bool = False
    supports: Mesh | None = None
    kept: ShownKept | None = None
    sections: ShownSections | None = None

    @property
    def plate_at(self) -> float:
        """Build height of the plate, mm: 0 or below."""
        return 0.0 if self.on == "plate" else -self.gap

    def live_at(self, height: float) -> Iterator[tuple[str, float]]:
        """Cavities that have sealed area at a build height (with the accepted vents), with that area in mm2."""
        for band in self.bands:
            area = float(np.interp(height, self.heights, band.with_vents, 0.0, 0.0)) if len(self.heights) else 0.0
            if band.cavity and area > 0:
                yield band.cavity, area
