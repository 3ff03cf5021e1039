"""`breathe`: suction and overpressure of every room while the part is printed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ventplanner.flow.ground import Ground, Hollow
from ventplanner.flow.model import Curves, Flow, RoomFlow
from ventplanner.flow.solving import Solved, complete_from, heights_of, solved
from ventplanner.flow.ways import Hole, Way, way_of_hole, way_of_throat
from ventplanner.physics import curing
from ventplanner.physics.plates import clamped_disc_deflection
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

CREEPING = 10.0
"""Reynolds number above which the formulas of creeping flow no longer hold (from memory, no published value)."""

MOST_OVERPRESSURE = 1e9
"""Pa, said where nothing at all gets out on the way down: beyond all that a print could stand."""


def breathe(
    ground: Ground,
    profile: Profile,
    holes: Sequence[Hole] = (),
    printed: Mapping[str, float] | None = None,
    progress: Progress = silent,
) -> Flow:
    """Suction of each cup and of each other hollow, with these vents, at every height.

    printed: mm, width as printed of vents by name, and of openings of the part as "opening N" in the order of
    `ground.throats`. While the film is at a height h, a room takes in area(h) times lift speed; only what is printed of
    a way conducts; ways whose outer end is above the resin let in air. One that prints narrower than `LEAST_PIXELS`
    cannot be counted on, and counts as closed: air would come through however narrow it is.
    """
    ways = ways_of(ground, holes, printed or {}, curing.LEAST_PIXELS * profile.pixel_mm)
    progress("Solving the flow", 0.0)
    found = solved(ground, profile, ways, heights_of(ground, ways, profile))
    progress("Solving the flow", 1.0)
    curves = Curves(
        found.heights,
        np.minimum(found.suction, profile.air_pressure_pa),
        found.area,
        np.minimum(found.down, MOST_OVERPRESSURE),
    )
    rows = _rows(_Told(ground, profile, ways, curves, found))
    return Flow(profile, ground.rooms, ways, rows, curves, _notes(profile, rows))


def ways_of(ground: Ground, holes: Sequence[Hole], printed: Mapping[str, float], least: float = 0.0) -> tuple[Way, ...]:
    """Throats and openings of the part that no hole swallows, and the holes, as wide as they print if that is known.

    least: mm; what prints narrower is closed."""
    found = []
    wide = {name: width if width >= least - 1e-9 else 0.0 for name, width in printed.items()}
    for number, throat in enumerate(ground.throats):
        if any(hole.swallows(throat) for hole in holes):
            continue
        way = way_of_throat(throat)
        width = wide.get(f"opening {number}")
        found.append(way if width is None else way.as_printed(width))
    for hole in holes:
        drilled = way_of_hole(hole, ground.rooms)
        if drilled is not None:
            width = wide.get(hole.name)
            found.append(drilled if width is None else drilled.as_printed(width))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class _Told:
    """What is told of: curves are capped, `found` is not."""

    ground: Ground
    profile: Profile
    ways: tuple[Way, ...]
    curves: Curves
    found: Solved


def _rows(told_of: _Told) -> tuple[RoomFlow, ...]:
    rows = [_row(told_of, hollow) for hollow in told_of.ground.hollows]
    return tuple(sorted(rows, key=lambda r: -max(r.peak_suction, r.startup_suction)))


def _row(told_of: _Told, hollow: Hollow) -> RoomFlow:
    room, within = hollow.room, hollow.within
    ground, profile, curves = told_of.ground, told_of.profile, told_of.curves
    own = [w for w in told_of.ways if room in (w.a, w.b)] if room else []
    here = (curves.height >= within[0]) & (curves.height < within[1]) & (curves.area[room] > 0.0) & (room > 0)
    suction, down = np.where(here, curves.suction[room], 0.0), np.where(here, curves.overpressure[room], 0.0)
    complete = complete_from(curves.height, told_of.found.fed[room], own, within[1])
    early, peak = (float(suction[k].max(initial=0.0)) for k in (curves.height < complete, curves.height >= complete))
    over = float(down.max(initial=0.0))
    atmosphere = profile.air_pressure_pa
    low, high = (min(v / profile.viscosity_pas * peak, atmosphere) for v in profile.viscosity_span_pas)
    starts = max(float(ground.rooms.begins[room]), within[0]) if room else within[0]
    # What prints closed draws nothing.
    air_from = max((w.outer + profile.vat_depth_mm for w in own if w.b == 0 and w.width > 0.0), default=math.inf)
    last = float(curves.height[here].max(initial=0.0))
    return RoomFlow(
        room=room,
        cavity=hollow.cavity,
        cup=hollow.cup,
        starts=starts,
        peak_suction=peak,
        startup_suction=early,
        peak_overpressure=over,
        steady_overpressure=float(down[curves.height >= complete].max(initial=0.0)),
        peak_force=float((suction * curves.area[room]).max(initial=0.0)) * 1e-6,
        height=float(curves.height[int(np.argmax(suction))]) if here.any() else starts,
        capped=bool((told_of.found.suction[room][here] >= atmosphere).any()),
        span=(low, high) if peak < atmosphere else (peak, peak),
        bulge=_bulge(ground, profile, room, max(peak, over)),
        reynolds=float(told_of.found.reynolds[room][here].max(initial=0.0)),
        draws_air_from=air_from,
        draws_air_to=last,
        air_mm3=_air(ground, hollow, last - profile.vat_depth_mm) if starts <= air_from < last else 0.0,
    )


def _air(ground: Ground, hollow: Hollow, surface: float) -> float:
    """mm3 of a hollow that lie above the resin when its surface is at this build height."""
    rooms = ground.rooms
    size = rooms.voxels.size
    low = rooms.voxels.origin[2] + (np.arange(rooms.area.shape[1]) - 0.5) * size
    low = np.maximum(low, hollow.within[0])
    share = np.clip((surface - low) / size, 0.0, 1.0)
    return float((rooms.area[hollow.room] * share).sum() * size)


def _bulge(ground: Ground, profile: Profile, room: int, pressure: float) -> float:
    """mm: a flat wall, clamped, as wide as the widest ball in the room, of the thinnest wall's thickness."""
    if not room:
        return 0.0
    radius, thick = 0.0005 * float(ground.rooms.inscribed[room]), 0.001 * ground.thinnest
    modulus = 1e6 * profile.green_modulus_mpa
    return 1000.0 * clamped_disc_deflection(pressure, radius, modulus, thick, profile.green_poisson)


def _notes(profile: Profile, rows: tuple[RoomFlow, ...]) -> tuple[str, ...]:
    low, high = (1000.0 * v for v in profile.viscosity_span_pas)
    notes = [
        f"Resin of {1000.0 * profile.viscosity_pas:.0f} mPa·s at {profile.temperature_c:.0f} °C (it may be {low:.0f} to"
        f" {high:.0f}), lifted at {profile.lift_speed_mm_min:g} mm/min, lowered at"
        f" {profile.lower_speed_mm_min:g} mm/min.",
        "Slow, steady flow of a liquid that does not thicken; film and walls taken as stiff. Real film gives way, so"
        " real suction is lower. Estimates for planning, not measured.",
    ]
    if any(r.reynolds > CREEPING for r in rows):
        notes.append("Some vents carry a fast flow (Reynolds number above 10): their figures are rough.")
    return tuple(notes)
