"""`breathe`: suction and overpressure of every room while the part is printed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ventplanner.flow.ground import Ground
from ventplanner.flow.model import Curves, Flow, RoomFlow
from ventplanner.flow.network import AIR, Liquid, Pressures, solve
from ventplanner.flow.ways import Hole, Way, way_of_hole, way_of_throat
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.capillarity import entry_pressure
from ventplanner.physics.ducts import Section
from ventplanner.physics.plates import clamped_disc_deflection
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

CREEPING = 10.0
"""Reynolds number above which the formulas of creeping flow no longer hold (Dagan, Weinbaum & Pfeffer 1982)."""

MOST_OVERPRESSURE = 1e9
"""Pa, said where nothing at all gets out on the way down: beyond all that a print could stand."""

STEPS_OF_WAY = 12
"""Heights looked at while a way is being printed."""


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
    a way conducts; ways whose outer end is above the resin let in air.
    """
    ways = _ways(ground, holes, printed or {})
    heights = _heights(ground, ways, profile)
    n = ground.rooms.count + 1
    up, down, area = np.zeros((n, len(heights))), np.zeros((n, len(heights))), np.zeros((n, len(heights)))
    fed, reynolds = np.zeros((n, len(heights)), dtype=bool), np.zeros((n, len(heights)))
    for k, height in enumerate(heights.tolist()):
        if k % 64 == 0:
            progress("Solving the flow", k / len(heights))
        area[:, k] = _counted(ground, profile, height)
        sections = tuple(way.section(height) for way in ways)
        lifted = _at(ground, profile, ways, sections, height, area[:, k], up=True)
        up[:, k], fed[:, k] = lifted.pressure, lifted.fed
        for way, number in zip(ways, lifted.reynolds.tolist(), strict=True):
            reynolds[[way.a, way.b], k] = np.maximum(reynolds[[way.a, way.b], k], number)
        down[:, k] = _at(ground, profile, ways, sections, height, area[:, k], up=False).pressure
    progress("Solving the flow", 1.0)
    curves = Curves(heights, np.minimum(up, profile.air_pressure_pa), area, np.minimum(down, MOST_OVERPRESSURE))
    solved = _Solved(ground, profile, ways, curves, up, fed, reynolds)
    rows = _rows(solved)
    return Flow(profile, ground.rooms, ways, rows, curves, _notes(profile, rows))


def _ways(ground: Ground, holes: Sequence[Hole], printed: Mapping[str, float]) -> tuple[Way, ...]:
    found = []
    for number, throat in enumerate(ground.throats):
        if any(hole.swallows(throat) for hole in holes):
            continue
        way = way_of_throat(throat)
        width = printed.get(f"opening {number}")
        found.append(way if width is None else way.as_printed(width))
    for hole in holes:
        drilled = way_of_hole(hole, ground.rooms)
        if drilled is not None:
            width = printed.get(hole.name)
            found.append(drilled if width is None else drilled.as_printed(width))
    return tuple(found)


def _heights(ground: Ground, ways: tuple[Way, ...], profile: Profile) -> FloatArray:
    """Where the flow is solved: the middle of each layer of voxels, and more closely while a way is being printed."""
    size, top = ground.rooms.voxels.size, ground.findings.scene.height
    grid = np.arange(0.5 * size, top, size)
    hair = 1e-6
    more = [np.linspace(w.low, w.high, STEPS_OF_WAY)[1:] for w in ways if w.high > w.low]
    more += [np.array([w.high + hair, w.high - hair]) for w in ways]
    peel = profile.peel_layers * profile.layer_height_mm
    more.append(ground.rooms.begins[1:] + peel + hair)
    ends = ground.rooms.ends[np.isfinite(ground.rooms.ends)]
    more.append(ends - hair)
    every = np.concatenate((grid, *more))
    return np.unique(np.round(every[(every > 0.0) & (every < top)], 7))


def _counted(ground: Ground, profile: Profile, height: float) -> FloatArray:
    """mm2 of each room in the layer; rooms that have only just begun count as ordinary peel."""
    rooms = ground.rooms
    area = rooms.area_at(height)
    area[0] = 0.0
    area[height - rooms.begins < profile.peel_layers * profile.layer_height_mm] = 0.0
    return area


def _at(
    ground: Ground, profile: Profile, ways: tuple[Way, ...], sections: tuple[Section, ...], height: float,
    area: FloatArray, *, up: bool,
) -> Pressures:  # fmt: skip
    resin = Liquid(profile.viscosity_pas, profile.density_kg_m3)
    speed = (profile.lift_speed_mm_min if up else profile.lower_speed_mm_min) / 60_000.0
    liquids = tuple(AIR if _in_air(way, height, profile) else resin for way in ways)
    # On the way down the last of the resin leaves through the gap of one layer under the rim.
    gap = profile.rim_gap_mm if up else max(profile.rim_gap_mm, profile.layer_height_mm)
    layer = min(int(height / ground.rooms.voxels.size + 1.5), ground.perimeter.shape[1] - 1)
    # No rim is shorter than that of a disc.
    rim = np.maximum(ground.perimeter[:, layer], 2.0 * np.sqrt(np.pi * area)) * (area > 0.0)
    # Plane flow through the gap: P h^3/(12 mu w).
    seep = rim * gap**3 / (12.0 * resin.viscosity * ground.rim[layer]) * 1e-9
    found = solve(ways, sections, liquids, area * 1e-6 * speed, seep)
    held = _held(ways, height, profile, len(area))
    return replace(found, pressure=found.pressure + np.where(area > 0.0, held, 0.0))


def _in_air(way: Way, height: float, profile: Profile) -> bool:
    """Whether the outer end of a way out lies above the surface of the resin when the film is at a height."""
    return way.b == 0 and height - way.outer > profile.vat_depth_mm


def _held(ways: tuple[Way, ...], height: float, profile: Profile, n: int) -> FloatArray:
    """(n,) Pa that air must overcome to enter wet vents, for rooms all of whose open vents lie above the resin."""
    least, wet = np.full(n, np.inf), np.zeros(n, dtype=bool)
    for way in ways:
        if way.b != 0 or height < way.high or way.width <= 0.0:
            continue
        if _in_air(way, height, profile):
            entry = entry_pressure(0.001 * profile.surface_tension_mn_m, 0.001 * way.width)
            least[way.a] = min(least[way.a], entry)
        else:
            wet[way.a] = True
    return np.where(wet | np.isinf(least), 0.0, least)


@dataclass(frozen=True, eq=False)
class _Solved:
    """What was solved, by room and height. uncapped: (n, k) Pa; fed: (n, k) bool; reynolds: (n, k)."""

    ground: Ground
    profile: Profile
    ways: tuple[Way, ...]
    curves: Curves
    uncapped: FloatArray
    fed: NDArray[np.bool_]
    reynolds: FloatArray


def _rows(solved: _Solved) -> tuple[RoomFlow, ...]:
    ground, options = solved.ground, solved.ground.findings.options
    rows, told = [], set()
    for cavity, found in ground.cups:
        room = ground.room_of_cup[found.id]
        told.add(room)
        until = math.inf if found.cup.joins_height is None else found.cup.joins_height
        row = _row(solved, room, (found.cup.from_height, until))
        rows.append(replace(row, cavity=cavity.id, cup=found.id))
    volume = ground.rooms.area.sum(axis=1) * ground.rooms.voxels.size
    for room in range(1, ground.rooms.count + 1):
        if room in told:
            continue
        row, cavity_id = _row(solved, room, (-math.inf, math.inf)), ground.cavity_of_room.get(room)
        deep = min(ground.rooms.ends[room], ground.findings.scene.height) - row.starts > options.late_mm
        if cavity_id or (deep and volume[room] > options.late_mm3):
            rows.append(replace(row, cavity=cavity_id))
    return tuple(sorted(rows, key=lambda r: -max(r.peak_suction, r.startup_suction)))


def _row(solved: _Solved, room: int, within: tuple[float, float]) -> RoomFlow:
    """The flow of a room between two build heights."""
    ground, profile, curves = solved.ground, solved.profile, solved.curves
    own = [w for w in solved.ways if room in (w.a, w.b)] if room else []
    here = (curves.height >= within[0]) & (curves.height < within[1]) & (curves.area[room] > 0.0) & (room > 0)
    suction, down = np.where(here, curves.suction[room], 0.0), np.where(here, curves.overpressure[room], 0.0)
    complete = _complete(solved, room, own, within[1])
    early, peak = (float(suction[k].max(initial=0.0)) for k in (curves.height < complete, curves.height >= complete))
    over = float(down.max(initial=0.0))
    atmosphere = profile.air_pressure_pa
    low, high = (min(v / profile.viscosity_pas * peak, atmosphere) for v in profile.viscosity_span_pas)
    starts = max(float(ground.rooms.begins[room]), within[0]) if room else within[0]
    return RoomFlow(
        room=room,
        cavity=None,
        cup=None,
        starts=starts,
        peak_suction=peak,
        startup_suction=early,
        peak_overpressure=over,
        steady_overpressure=float(down[curves.height >= complete].max(initial=0.0)),
        peak_force=float((suction * curves.area[room]).max(initial=0.0)) * 1e-6,
        height=float(curves.height[int(np.argmax(suction))]) if here.any() else starts,
        capped=bool((solved.uncapped[room][here] >= atmosphere).any()),
        span=(low, high) if peak < atmosphere else (peak, peak),
        bulge=_bulge(ground, profile, room, max(peak, over)),
        reynolds=float(solved.reynolds[room][here].max(initial=0.0)),
        draws_air_from=max((w.outer + profile.vat_depth_mm for w in own if w.b == 0), default=math.inf),
    )


def _complete(solved: _Solved, room: int, own: list[Way], until: float) -> float:
    """Height from which a room breathes through a complete way; -inf for one that never does while it is a cup of its
    own: then all its suction is steady."""
    highs = [w.high for w in own]
    if not highs:
        return -math.inf
    heights = solved.curves.height
    breathing = solved.fed[room] & (heights >= min(highs)) & (heights < until)
    return float(heights[int(np.argmax(breathing))]) if breathing.any() else -math.inf


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
