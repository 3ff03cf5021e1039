"""How wide each vent must be, which condition asks for it, what speeds go with it, and whether the hollow empties.

Every condition is turned into the diameter that it asks for; the largest one binds. What suction and overpressure ask
for is found by solving the network (`ventplanner.flow.smallest`). Other formulas: `ventplanner.physics`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from scipy.optimize import brentq

from ventplanner.flow.ground import Ground
from ventplanner.flow.smallest import Asked, fastest, groups_of, smallest, up_to_tenth
from ventplanner.flow.ways import Hole
from ventplanner.physics import capillarity, curing, ducts
from ventplanner.profile import Profile

Name = str
SUCTION, OVERPRESSURE, PRINTS = "suction", "overpressure", "prints open"


@dataclass(frozen=True)
class Need:
    """What one condition asks for. condition: a word. diameter: mm; 0 if any will do, inf if none does. why: a
    sentence. height: build height in mm where it binds, None if nowhere."""

    condition: Name
    diameter: float
    why: str
    height: float | None = None


@dataclass(frozen=True)
class Size:
    """For one vent: its smallest diameter in mm (rounded up to a tenth), together with those of the others of its
    hollow; the needs, the binding one first; and mm/min, the speeds at which the vents as they are just keep the limit
    on the way up and down."""

    diameter: float
    needs: tuple[Need, ...]
    lift_speed: float
    lower_speed: float

    @property
    def binding(self) -> Need:
        """The condition that asks for the most."""
        return self.needs[0]


Memo = dict[object, tuple[dict[str, Asked], ...]]

NO_SPEEDS = (math.inf, math.inf)


def sizes(
    ground: Ground,
    profile: Profile,
    holes: Sequence[Hole],
    *,
    least: float = 0.0,
    fixed: frozenset[str] = frozenset(),
    memo: Memo | None = None,
    with_speeds: bool = True,
) -> dict[str, Size]:
    """Smallest diameters, by the name of each hole, with which all of them together keep every limit.

    Vents that bear the same flow get the same width; one that bears it alone, near the start, gets what it needs; one
    that nothing depends on gets what prints. least: mm that each has at least. fixed: holes that keep their diameter.
    memo: what was found for the same ground and profile before, and is again for groups of vents that are the same.
    with_speeds: whether the speeds are wanted, too; else they are inf.
    """
    memo = {} if memo is None else memo
    found = {}
    prints = {hole.name: _prints(hole, profile) for hole in holes}
    for group in groups_of(ground, holes):
        floor = {h.name: up_to_tenth(max(prints[h.name].diameter, least)) for h in group.holes}
        # What is free to get any width asks the same whatever width it has.
        free = tuple(h if h.name in fixed else replace(h, diameter=floor[h.name]) for h in group.holes)
        key = (group.rooms, free, fixed)
        if key not in memo:
            memo[key] = tuple(smallest(ground, profile, group, floor, fixed, up=way) for way in (True, False))
        up, down = memo[key]
        speeds = tuple(fastest(ground, profile, group, up=way) for way in (True, False)) if with_speeds else NO_SPEEDS
        alone = len(group.holes) == 1
        for hole in group.holes:
            needs = [
                prints[hole.name],
                _need(SUCTION, up[hole.name], profile, alone),
                _need(OVERPRESSURE, down[hole.name], profile, alone),
            ]
            found[hole.name] = _size(needs, floor[hole.name], speeds)
    for name, need in prints.items():
        found.setdefault(name, _size([need], up_to_tenth(max(need.diameter, least)), (math.inf, math.inf)))
    return found


def _size(needs: list[Need], floor: float, speeds: Sequence[float]) -> Size:
    needs.sort(key=lambda need: -need.diameter)
    return Size(max(floor, up_to_tenth(needs[0].diameter)), tuple(needs), *speeds)


def _prints(hole: Hole, profile: Profile) -> Need:
    least = curing.LEAST_PIXELS * profile.pixel_mm
    wide = nominal_for(least, is_sideways(hole), profile)
    return Need(PRINTS, wide, f"it must print at least {least:.2f} mm wide")


def _need(condition: Name, asked: Asked, profile: Profile, alone: bool) -> Need:
    limit, bears = f"{profile.suction_limit_kpa:g} kPa", asked.bears
    way = "the lift" if condition == SUCTION else "the way down"
    if bears is None:
        others = "" if alone else ", with the others as wide as asked"
        return Need(condition, asked.diameter, f"{way} stays within {limit} whatever its width{others}")
    at = f"{bears.height:.1f} mm"
    if math.isinf(asked.diameter):
        text = f"no width will do: at {at} {bears.room} stays above {limit}, for the vents printed by then"
        return Need(condition, asked.diameter, text, bears.height)
    verb = "draws" if condition == SUCTION else "presses"
    all_of_it = "" if alone or bears.share < ALL else ", all that its hollow takes,"
    text = f"at {at} {way} {verb} {1e6 * bears.flow:.2f} mL/s through it{all_of_it} at no more than {limit}"
    return Need(condition, asked.diameter, text, bears.height)


ALL = 0.99
"""A vent that bears this share of the flow bears it alone."""


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


def is_sideways(hole: Hole) -> bool:
    """Whether a hole has a ceiling that can come down: its axis is more than 30 degrees off the build direction."""
    rise, run = abs(hole.exit[2] - hole.entry[2]), math.dist(hole.exit, hole.entry)
    return run <= 0.0 or rise / run < math.cos(math.radians(30.0))
