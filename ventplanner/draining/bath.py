"""A part with liquid in it that is held, turned and left to drain: liquid runs where it can if air can take its place.

A hole lets liquid out only while air comes in: through a mouth that lies dry, through another one far enough above it,
or through the same one if that is wide (`physics.capillarity`). A mouth that lets nothing out is closed for the liquid.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from ventplanner.draining.cells import OUTSIDE, Cells, Flags
from ventplanner.draining.mouths import OUT, Doors, Mouth
from ventplanner.draining.tilt import Settled, Tilt
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics import capillarity
from ventplanner.profile import Profile

Air = Literal["free", "glugs", "shake", "held"]
"""How air gets into a cavity: freely; through the hole that the liquid leaves by; the same, if it is shaken; not."""

STEP_DEG = 15.0
"""A turn is followed in steps of at most this angle."""

KEPT = 400
"""Directions that are kept ready."""


@dataclass(frozen=True)
class Liquid:
    """SI units: viscosity in Pa s, density in kg/m3, surface tension in N/m."""

    viscosity: float
    density: float
    tension: float

    @classmethod
    def of(cls, profile: Profile) -> Liquid:
        """The resin of a profile."""
        return cls(profile.viscosity_pas, profile.density_kg_m3, 0.001 * profile.surface_tension_mn_m)


@dataclass(frozen=True, eq=False)
class Rest:
    """The part held still until nothing runs. up: (3,) unit, build axes. air: of each cavity that had liquid at a
    mouth, by its place in the findings. plate: whether it still hangs on the plate."""

    up: FloatArray
    settled: Settled
    air: dict[int, Air]
    plate: bool = False

    @property
    def liquid(self) -> FloatArray:
        """(n,) mm3 in each cell."""
        return self.settled.liquid


@dataclass(frozen=True, eq=False)
class Bath:
    """Cells with their doors, and a liquid. plate_mm: what of the skin lies below this build height is closed while the
    part hangs on the plate; None if it hangs on supports."""

    cells: Cells
    doors: Doors
    liquid: Liquid
    plate_mm: float | None = None
    _ready: dict[tuple[object, ...], Tilt] = field(default_factory=dict)

    @property
    def full(self) -> FloatArray:
        """(n,) mm3: every cell full."""
        return self.cells.volume

    def rest(self, liquid: FloatArray, up: FloatArray, *, plate: bool = False) -> Rest:
        """Hold it with `up` upwards until nothing runs any more."""
        closed = self._tilt(up, self._all, plate).settle(liquid)
        air = self._air(closed, up, plate)
        return Rest(up, self._tilt(up, self._held(air), plate).settle(liquid), air, plate)

    @property
    def _all(self) -> frozenset[int]:
        return frozenset(range(len(self.doors.mouths)))

    def _held(self, air: dict[int, Air]) -> frozenset[int]:
        return frozenset(n for n, m in enumerate(self.doors.mouths) if air.get(m.cavity) == "held")

    def closed(self, liquid: FloatArray, up: FloatArray, *, plate: bool = False) -> FloatArray:
        """(n,) mm3 if it is held so with every mouth closed."""
        return self._tilt(up, self._all, plate).settle(liquid).liquid

    def tilt_of(self, at: Rest) -> Tilt:
        """The depressions as the part is held."""
        return self._tilt(at.up, self._held(at.air), at.plate)

    def lip(self, mouth: int, up: FloatArray) -> float:
        """mm: height along up at which liquid passes a mouth."""
        own = self.doors.contacts[mouth]
        if not len(own):
            return float(self.doors.mouths[mouth].inner @ up)
        return float((self.cells.rim[own].astype(np.float64) @ up).min())

    def turned(
        self, liquid: FloatArray, start: FloatArray, end: FloatArray, step_deg: float = STEP_DEG,
        by: FloatArray | None = None,
    ) -> Rest:  # fmt: skip
        """Turn it from one direction to another on the shortest way (over x, if they are opposite), and hold it. by:
        (n, 3) directions to go by, each step by the nearest."""
        ways = path(start, end, step_deg)
        if by is not None:
            ways = [*(by[int(np.argmax(by @ way))] for way in ways[:-1]), end]
        for up in ways:
            at = self.rest(liquid, up)
            liquid = at.liquid
        return at

    def held_back(self, at: Rest, before: FloatArray) -> FloatArray:
        """(n,) mm3 at worst: a drop in every mouth carries as much as it can, and what must be shaken stays. before:
        what it had before it came to rest so, at worst."""
        raised = np.zeros(len(self.cells.ends))
        for mouth, own in zip(self.doors.mouths, self.doors.contacts, strict=True):
            head = capillarity.drop_head(self.liquid.tension, self.liquid.density, 0.001 * mouth.hydraulic)
            raised[own] = np.inf if at.air.get(mouth.cavity) in ("held", "shake") else 1000.0 * head
        return Tilt.of(self.cells, at.up, raised).settle(before).liquid

    def _tilt(self, up: FloatArray, closed: frozenset[int], plate: bool) -> Tilt:
        key = (*np.round(up, 6).tolist(), closed, plate)
        if key not in self._ready:
            if len(self._ready) >= KEPT:
                self._ready.pop(next(iter(self._ready)))
            self._ready[key] = Tilt.of(self.cells, up, self._raised(closed, plate))
        return self._ready[key]

    def _raised(self, closed: frozenset[int], plate: bool) -> FloatArray | None:
        blocked = np.isin(self.doors.mouth, np.fromiter(closed, dtype=np.int64, count=len(closed)))
        if plate and self.plate_mm is not None:
            out = (self.cells.ends == OUTSIDE).any(axis=1)
            blocked |= out & (self.cells.rim[:, :, 2].max(axis=1) <= self.plate_mm)
        return np.where(blocked, np.inf, 0.0) if blocked.any() else None

    def _air(self, closed: Settled, up: FloatArray, plate: bool) -> dict[int, Air]:
        """How air gets into each cavity with liquid at a mouth; a cavity gives air on as soon as it has some."""
        wet = self.doors.wet(closed.liquid)
        waiting = {m.cavity for n, m in enumerate(self.doors.mouths) if wet[n]}
        found: dict[int, Air] = {}
        while True:
            aired = {OUT, *(k for k in range(int(self.cells.cavity.max(initial=-1)) + 1) if k not in waiting)}
            new = {k: how for k in waiting if (how := self._into(k, wet, aired, up, plate)) != "held"}
            if not new:
                return found | dict.fromkeys(waiting, "held")
            found |= new
            waiting -= set(new)

    def _into(self, cavity: int, wet: Flags, aired: set[int], up: FloatArray, plate: bool) -> Air:
        mouths = [(n, m) for n, m in enumerate(self.doors.mouths) if m.cavity == cavity]
        if plate and self.plate_mm is not None:
            mouths = [(n, m) for n, m in mouths if m.outer[2] > self.plate_mm]
        inlets = [(n, m) for n, m in mouths if m.beyond in aired]
        if any(not wet[n] for n, _ in inlets):
            return "free"
        for n, inlet in inlets:
            if any(k != n and self.apart(inlet, outlet, up) > 0.0 for k, outlet in mouths):
                return "free"
        ways = {self._alone(m, up) for _, m in inlets}
        return "glugs" if "surely" in ways else "shake" if "shaken" in ways else "held"

    def apart(self, inlet: Mouth, outlet: Mouth, up: FloatArray) -> float:
        """m that the upper end of one mouth lies above the lower end of another, or of itself if it is a slit, beyond
        what surface tension holds back there."""
        reach = 0.5 * (inlet.rise(up) + outlet.rise(up))
        between = float((inlet.outer - outlet.outer) @ up) + reach
        held = capillarity.held_head(
            self.liquid.tension, self.liquid.density, 0.001 * inlet.hydraulic, 0.001 * outlet.hydraulic
        )
        return 0.001 * between - held

    @cached_property
    def airless(self) -> tuple[int, ...]:
        """Cavities with mouths, full, into which no air gets however they are held: each mouth is too narrow, and none
        can be far enough above another one, or above its own other end."""
        found = []
        for cavity in sorted({m.cavity for m in self.doors.mouths}):
            own = [m for m in self.doors.mouths if m.cavity == cavity]
            # Open all the same is what the contacts of cells do not know.
            known = all(len(c) > 0 for m, c in zip(self.doors.mouths, self.doors.contacts, strict=True) if m in own)
            apart = any(self.apart(a, b, way) > 0.0 for a in own for b in own for way in _furthest(a, b))
            if known and not apart and all(self._alone(m, np.zeros(3)) == "never" for m in own):
                found.append(cavity)
        return tuple(found)

    def _alone(self, mouth: Mouth, up: FloatArray) -> capillarity.Exchange:
        tension, density = self.liquid.tension, self.liquid.density
        if not mouth.is_slit:
            return capillarity.hole_alone(tension, density, 0.001 * mouth.width)
        if self.apart(mouth, mouth, up) > 0.0:  # its upper end lets air in, and its lower one liquid out
            return "surely"
        return capillarity.slit_alone(tension, density, 0.001 * mouth.width, 0.001 * mouth.long)


def _furthest(inlet: Mouth, outlet: Mouth) -> list[FloatArray]:
    """Directions up in which one mouth is furthest above another: along the line between them, or slits on end."""
    ways = [inlet.outer - outlet.outer, inlet.along, outlet.along, -inlet.along, -outlet.along]
    ways += [ways[0] + 0.5 * s * (m.long - m.width) * m.along for m in (inlet, outlet) if m.is_slit for s in (-1, 1)]
    return [way / size for way in ways if (size := float(np.linalg.norm(way))) > 1e-9]


def path(start: FloatArray, end: FloatArray, step_deg: float = STEP_DEG) -> list[FloatArray]:
    """Directions on the great circle from one to another, without the first, at most `step_deg` apart."""
    cosine = float(np.clip(start @ end, -1.0, 1.0))
    angle = float(np.arccos(cosine))
    if angle < 1e-6:
        return [end]
    across = end - cosine * start
    if np.linalg.norm(across) < 1e-6:  # opposite: any way round is as short, so one is chosen for good
        axis = np.eye(3)[int(np.argmin(np.abs(start)))]
        across = axis - (axis @ start) * start
    across = across / np.linalg.norm(across)
    count = max(1, int(np.ceil(np.degrees(angle) / step_deg - 1e-9)))
    return [*(np.cos(a) * start + np.sin(a) * across for a in angle * np.arange(1, count) / count), end]
