"""How wide a vent must be, which condition asks for it, what lift speed goes with it, and whether the hollow empties.

Every condition is turned into the diameter that it asks for; the largest one binds. Formulas: `ventplanner.physics`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from ventplanner.flow.ground import Ground
from ventplanner.flow.model import Flow
from ventplanner.flow.ways import Hole, Way
from ventplanner.physics import capillarity, curing, ducts
from ventplanner.profile import Profile

STEP_MM = 0.1
WIDEST_MM = 20.0

Name = str
SUCTION, OVERPRESSURE, PRINTS = "suction", "overpressure", "prints open"


@dataclass(frozen=True)
class Need:
    """What one condition asks for. condition: a word. diameter: mm, inf if no diameter will do. why: a sentence."""

    condition: Name
    diameter: float
    why: str


@dataclass(frozen=True)
class Size:
    """For the vents into one hollow: diameter of each in mm (rounded up to a tenth), for `count` equal ones; the needs,
    the binding one first."""

    count: int
    diameter: float
    needs: tuple[Need, ...]

    @property
    def binding(self) -> Need:
        """The condition that asks for the most."""
        return self.needs[0]


def size_vents(area_mm2: float, wall_mm: float, count: int, sideways: bool, profile: Profile) -> Size:
    """Smallest equal vents for a hollow that sucks with an area.

    area_mm2: largest area of all rooms that breathe through these vents together. wall_mm: length of the holes.
    sideways: whether they run across the build direction, so that their ceilings come down.
    """
    limit = 1000.0 * profile.suction_limit_kpa
    needs = []
    for condition, speed in ((SUCTION, profile.lift_speed_mm_min), (OVERPRESSURE, profile.lower_speed_mm_min)):
        flow = area_mm2 * 1e-6 * speed / 60_000.0 / count
        diameter = _for_pressure(flow, wall_mm, limit, profile)
        way = "the lift draws" if condition == SUCTION else "the way down presses"
        why = f"{way} {1e6 * flow:.2f} mL/s through each at no more than {profile.suction_limit_kpa:g} kPa"
        needs.append(Need(condition, diameter, why))
    least = curing.LEAST_PIXELS * profile.pixel_mm
    needs.append(Need(PRINTS, nominal_for(least, sideways, profile), f"it must print at least {least:.2f} mm wide"))
    needs.sort(key=lambda need: -need.diameter)
    return Size(count, _up(needs[0].diameter), tuple(needs))


def _for_pressure(flow: float, wall_mm: float, limit: float, profile: Profile) -> float:
    """mm: the diameter at which a flow (m3/s) meets the limit (Pa), tube, mouths and inertia together."""

    def excess(millimetres: float) -> float:
        drop = ducts.pressure_drop(
            flow, 0.001 * millimetres, 0.001 * wall_mm, profile.viscosity_pas, profile.density_kg_m3
        )
        return math.log(drop / limit)

    if flow <= 0.0 or excess(0.05) <= 0.0:
        return 0.05
    return float(brentq(excess, 0.05, WIDEST_MM)) if excess(WIDEST_MM) < 0.0 else math.inf


def nominal_for(printed_mm: float, sideways: bool, profile: Profile) -> float:
    """mm: the diameter in the model of a hole that prints with a width: bleed on both sides, and above a sideways hole
    the print-through of many layers."""
    if sideways:
        down = curing.print_through(profile.penetration_mm, profile.exposure_ratio, profile.layer_height_mm)
        return printed_mm + down + 2.0 * max(curing.edge_shift(profile.blur_mm, profile.exposure_ratio), 0.0)
    if curing.printed_diameter(printed_mm, profile.blur_mm, profile.exposure_ratio) >= printed_mm:
        return printed_mm
    return float(
        brentq(
            lambda d: curing.printed_diameter(d, profile.blur_mm, profile.exposure_ratio) - printed_mm,
            printed_mm,
            printed_mm + 20.0 * profile.blur_mm + 0.1,
        )
    )


def speed_for(pressure_pa: float, speed_mm_min: float, profile: Profile) -> float:
    """mm/min: the speed at which a pressure found at another speed just meets the limit; slow flow is proportional."""
    return speed_mm_min * 1000.0 * profile.suction_limit_kpa / pressure_pa if pressure_pa > 0.0 else math.inf


def fastest(area_mm2: float, wall_mm: float, count: int, diameter_mm: float, profile: Profile) -> float:
    """mm/min: the speed at which equal vents of a diameter just meet the limit; inf if nothing flows. The reverse of
    `size_vents`."""

    def excess(log_speed: float) -> float:
        flow = area_mm2 * 1e-6 * math.exp(log_speed) / 60_000.0 / count
        drop = ducts.pressure_drop(
            flow, 0.001 * diameter_mm, 0.001 * wall_mm, profile.viscosity_pas, profile.density_kg_m3
        )
        return math.log(drop / (1000.0 * profile.suction_limit_kpa))

    if area_mm2 <= 0.0 or diameter_mm <= 0.0:
        return math.inf
    return math.exp(float(brentq(excess, math.log(1e-9), math.log(1e12))))


def served_area(ground: Ground, flow: Flow, room: int) -> float:
    """mm2: largest area, over all heights, of the rooms that hang together with this one through throats of the part
    (its neighbours breathe through its vents)."""
    linked, ways = {room}, [w for w in flow.ways if not w.name and w.a and w.b]
    while True:
        more = linked | {x for w in ways if w.a in linked or w.b in linked for x in (w.a, w.b)}
        if more == linked:
            break
        linked = more
    rows = np.array(sorted(linked))
    return float(flow.curves.area[rows].sum(axis=0).max(initial=0.0))


@dataclass(frozen=True)
class Emptying:
    """How a hollow empties by gravity, standing with its vents at the bottom.

    alone: whether it empties without help. held_ml: what capillarity holds back. seconds: time to run out to that
    level, inf if nothing runs out. advice: a sentence.
    """

    alone: bool
    held_ml: float
    seconds: float
    advice: str


def emptying(
    volume_mm3: float, height_mm: float, diameters: tuple[float, ...], wall_mm: float, profile: Profile
) -> Emptying:
    """Whether a hollow of a volume and height empties through its vents.

    One vent must let air in against the resin (Bretherton 1961; Maxwell); of two or more the highest lets air in, and
    capillarity holds back a head. The hollow counts as a prism of its height.
    """
    tension, density = 0.001 * profile.surface_tension_mn_m, profile.density_kg_m3
    length = 1000.0 * capillarity.capillary_length(tension, density)
    stuck = _stuck(diameters, length)
    if stuck:
        return Emptying(False, 0.001 * volume_mm3, math.inf, stuck)
    held = 1000.0 * capillarity.held_head(tension, density, 0.001 * min(diameters), 0.001 * max(diameters))
    held_ml = 0.001 * volume_mm3 * min(held / height_mm, 1.0)
    if held >= height_mm:
        return Emptying(False, held_ml, math.inf, "Its vents hold all of it back: a puff of air or a flush must help.")
    # One of several holes lets in the air.
    sections = [ducts.circle(0.001 * d) for d in sorted(diameters)[len(diameters) > 1 :]]
    conductance = sum(1.0 / s.resistance(0.001 * wall_mm, profile.viscosity_pas) for s in sections)
    heads = math.log((height_mm + wall_mm) / (held + wall_mm))
    seconds = 1e-6 * volume_mm3 / height_mm / (conductance * density * capillarity.GRAVITY) * heads
    more = f"up to {held_ml:.1f} mL may stay until a puff of air or a flush helps"
    return Emptying(True, held_ml, seconds, f"It runs out in about {_time(seconds)}; {more}.")


def _stuck(diameters: tuple[float, ...], length: float) -> str:
    """Why nothing runs out; "" if it does. length: the capillary length in mm."""
    if not diameters:
        return "It has no vent: nothing runs out."
    if len(diameters) > 1 or diameters[0] >= capillarity.ALONE_SURELY * length:
        return ""
    only, least = diameters[0], capillarity.ALONE_AT_LEAST * length
    if only < least:
        return (
            f"One hole of {only:.1f} mm does not let air in against the resin (below {least:.1f} mm none does): it"
            " needs a second hole."
        )
    return f"One hole of {only:.1f} mm may hold the resin: tilt and shake, or make a second hole."


def _time(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"


def _up(millimetres: float) -> float:
    return math.inf if math.isinf(millimetres) else round(math.ceil(millimetres / STEP_MM - 1e-9) * STEP_MM, 1)


def is_sideways(way: Way | Hole) -> bool:
    """Whether a hole has a ceiling that can come down: its axis is more than 30 degrees off the build direction."""
    if isinstance(way, Hole):
        rise, run = abs(way.exit[2] - way.entry[2]), math.dist(way.exit, way.entry)
        return run <= 0.0 or rise / run < math.cos(math.radians(30.0))
    return way.high - way.low < 0.9 * way.length or way.length < 0.5 * way.width
