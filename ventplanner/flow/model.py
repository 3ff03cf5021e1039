"""What is said about flow: frozen values. Pressures in Pa, forces in N, heights are build heights in mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.rooms import Rooms
from ventplanner.flow.ways import Way
from ventplanner.geometry.solid import FloatArray
from ventplanner.profile import Profile


@dataclass(frozen=True)
class RoomFlow:
    """One room, lifted layer by layer.

    room: its number. cavity, cup: what it belongs to in the findings; None where they know none (a hollow that is open
    and yet narrow enough to suck). starts: build height of its floor. peak_suction: largest once a way is complete (or
    none ever is). startup_suction: largest before the first way is complete; 0 if one is from the start.
    peak_overpressure: largest on the way down; steady_overpressure: the same once a way is complete. peak_force:
    suction times area, largest of all. height: where the largest suction of all is. capped: it would be more than the
    air can press, or nothing gets in at all. span: lowest and highest peak suction within the doubt about the
    viscosity. bulge: mm by which a flat wall as wide as the room would bend under the larger of peak suction and
    overpressure. reynolds: largest in any of its ways. draws_air_from: height from which all its vents and openings lie
    above the resin; inf if never. draws_air_to: height up to which it takes anything in. air_mm3: most of it that then
    lies above the resin, and so holds air.
    """

    room: int
    cavity: str | None
    cup: str | None
    starts: float
    peak_suction: float
    startup_suction: float
    peak_overpressure: float
    steady_overpressure: float
    peak_force: float
    height: float
    capped: bool
    span: tuple[float, float]
    bulge: float
    reynolds: float
    draws_air_from: float
    draws_air_to: float = 0.0
    air_mm3: float = 0.0

    @property
    def draws_air(self) -> bool:
        """Whether it goes on above the resin while it still takes something in."""
        return self.starts <= self.draws_air_from < self.draws_air_to

    @property
    def name(self) -> str:
        """How to call it."""
        return self.cup or self.cavity or f"hollow at {self.starts:.1f} mm"


@dataclass(frozen=True, eq=False)
class Curves:
    """By height (k,) mm, and by room: suction, overpressure (n + 1, k) Pa and area (n + 1, k) mm2."""

    height: FloatArray
    suction: FloatArray
    area: FloatArray
    overpressure: FloatArray

    @property
    def worst_suction(self) -> FloatArray:
        """(k,) Pa."""
        return np.asarray(self.suction.max(axis=0, initial=0.0))

    @property
    def force(self) -> FloatArray:
        """(k,) N: of all rooms together."""
        return np.asarray((self.suction * self.area).sum(axis=0) * 1e-6)


@dataclass(frozen=True, eq=False)
class Flow:
    """The flow of a part with certain vents under a profile. cups: worst first. notes: assumptions, sentences."""

    profile: Profile
    rooms: Rooms
    ways: tuple[Way, ...]
    cups: tuple[RoomFlow, ...]
    curves: Curves
    notes: tuple[str, ...]

    def of(self, name: str) -> RoomFlow | None:
        """The flow of the cup, or else the cavity, of this name."""
        named = [c for c in self.cups if c.cup == name] or [c for c in self.cups if c.cavity == name]
        return named[0] if named else None
