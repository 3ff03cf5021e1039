"""The flow of certain ways at many heights at once: what of each way is printed, what it carries, what is drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ventplanner.flow.ground import Ground
from ventplanner.flow.network import AIR, Flags, Liquid, Pressures, solve
from ventplanner.flow.ways import Way
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.capillarity import entry_pressure
from ventplanner.physics.ducts import loss_coefficient
from ventplanner.profile import Profile

STEPS_OF_WAY = 12
"""Heights looked at while a way is being printed."""


def heights_of(ground: Ground, ways: Sequence[Way], profile: Profile) -> FloatArray:
    """Where the flow is solved: the middle of each layer of voxels, and more closely while a way is being printed."""
    size, top = ground.rooms.voxels.size, ground.findings.scene.height
    grid = np.arange(size, top, size)  # layer k is about origin + k size, and the origin one layer below 0
    hair = 1e-6
    more = [np.linspace(w.low, w.high, STEPS_OF_WAY)[1:] for w in ways if w.high > w.low]
    more += [np.array([w.high + hair, w.high - hair]) for w in ways]
    peel = profile.peel_layers * profile.layer_height_mm
    more.append(ground.rooms.begins[1:] + peel + hair)
    ends = ground.rooms.ends[np.isfinite(ground.rooms.ends)]
    more.append(ends - hair)
    every = np.concatenate((grid, *more))
    return np.unique(np.round(every[(every > 0.0) & (every < top)], 7))


@dataclass(frozen=True, eq=False)
class Conductors:
    """Ways at k heights: geometry (k, m) 1/m3, resistance by viscosity, inf where nothing is open; area (k, m) m2;
    in_air (k, m); loss (m,) coefficients of inertia; ends (m, 2) rooms."""

    geometry: FloatArray
    area: FloatArray
    in_air: Flags
    loss: FloatArray
    ends: np.ndarray

    @classmethod
    def of(cls, ways: Sequence[Way], heights: FloatArray, profile: Profile) -> Conductors:
        """What of each way is printed at each height, and whether it carries air."""
        shape = (len(heights), len(ways))
        geometry, area, air = np.full(shape, np.inf), np.zeros(shape), np.zeros(shape, dtype=bool)
        for k, way in enumerate(ways):
            geometry[:, k], area[:, k] = _printed_so_far(way, heights)
            air[:, k] = in_air(way, heights, profile)
        loss = np.array([loss_coefficient(w.length, max(w.width, 1e-6)) for w in ways])
        ends = np.array([(w.a, w.b) for w in ways], dtype=np.int64).reshape(-1, 2)
        return cls(geometry, area, air, loss, ends)

    def pressures(self, resin: Liquid, taken: FloatArray, seep: FloatArray) -> Pressures:
        """taken, seep: (k, n); see `network.solve`."""
        viscosity = np.where(self.in_air, AIR.viscosity, resin.viscosity)
        density = np.where(self.in_air, AIR.density, resin.density)
        inertia = 0.5 * self.loss * density / np.maximum(self.area, 1e-30) ** 2
        return solve(self.ends, self.geometry * viscosity, np.where(self.area > 0.0, inertia, 0.0), taken, seep)

    def reynolds(self, flow: FloatArray, resin: Liquid) -> FloatArray:
        """(k, m) Reynolds number of each way, by the diameter of the circle of equal area."""
        area = np.maximum(self.area, 1e-30)
        thinness = np.where(self.in_air, AIR.density / AIR.viscosity, resin.density / resin.viscosity)
        found: FloatArray = thinness * np.abs(flow) / area * 2.0 * np.sqrt(area / np.pi)
        return found


def _printed_so_far(way: Way, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(k,) resistance by viscosity in 1/m3, and area in m2, of what is printed of a way at each height."""
    length = 0.001 * way.length
    geometry, area = np.full(len(heights), np.inf), np.zeros(len(heights))
    whole = way.section(way.high)
    done = heights >= way.high
    geometry[done], area[done] = whole.resistance(length, 1.0), whole.area
    for k in np.flatnonzero((heights > way.low) & ~done).tolist():
        part = way.section(float(heights[k]))
        geometry[k], area[k] = part.resistance(length, 1.0), part.area
    return geometry, area


def in_air(way: Way, height: FloatArray, profile: Profile) -> Flags:
    """Whether the outer end of a way out lies above the surface of the resin when the film is at a height."""
    return np.asarray((height - way.outer > profile.vat_depth_mm) & (way.b == 0))


@dataclass(frozen=True, eq=False)
class Stage:
    """Everything but the speed: rooms, ways and heights, and what of the ways is printed. area: (k, n) mm2; held:
    (k, n) Pa that air must overcome at the mouths of wet vents."""

    ground: Ground
    heights: FloatArray
    conductors: Conductors
    area: FloatArray
    held: FloatArray
    resin: Liquid

    @classmethod
    def of(cls, ground: Ground, profile: Profile, ways: Sequence[Way], heights: FloatArray) -> Stage:
        """The part at these heights, with these ways."""
        area = counted(ground, profile, heights)
        conductors = Conductors.of(ways, heights, profile)
        held = _held(ways, heights, profile, conductors.in_air, area.shape[1]) * (area > 0.0)
        resin = Liquid(profile.viscosity_pas, profile.density_kg_m3)
        return cls(ground, heights, conductors, area, held, resin)

    def at(self, speed: float, gap: float) -> Pressures:
        """Pressures at a speed in mm/min, with a gap under the rim in mm."""
        seep = seep_of(self.ground, self.heights, self.area, gap, self.resin)
        found = self.conductors.pressures(self.resin, self.area * 1e-6 * speed / 60_000.0, seep)
        return replace(found, pressure=found.pressure + self.held)


@dataclass(frozen=True, eq=False)
class Solved:
    """What was solved, by room and height: suction, down (n, k) Pa, uncapped; area (n, k) mm2; fed, reynolds (n, k)."""

    heights: FloatArray
    area: FloatArray
    suction: FloatArray
    down: FloatArray
    fed: Flags
    reynolds: FloatArray


def solved(ground: Ground, profile: Profile, ways: Sequence[Way], heights: FloatArray) -> Solved:
    """Suction at the lift and overpressure on the way down of every room at every height."""
    stage = Stage.of(ground, profile, ways, heights)
    lifted, lowered = (stage.at(*how) for how in speeds(profile))
    fast = stage.conductors.reynolds(lifted.flow, stage.resin)
    reynolds = np.zeros_like(stage.area)
    for k, (a, b) in enumerate(stage.conductors.ends.tolist()):
        reynolds[:, a] = np.maximum(reynolds[:, a], fast[:, k])
        reynolds[:, b] = np.maximum(reynolds[:, b], fast[:, k])
    return Solved(heights, stage.area.T, lifted.pressure.T, lowered.pressure.T, lifted.fed.T, reynolds.T)


def speeds(profile: Profile) -> tuple[tuple[float, float], tuple[float, float]]:
    """Speed in mm/min and gap under the rim in mm, at the lift and on the way down."""
    # On the way down the last of the resin leaves through the gap of one layer under the rim.
    low = max(profile.rim_gap_mm, profile.layer_height_mm)
    return (profile.lift_speed_mm_min, profile.rim_gap_mm), (profile.lower_speed_mm_min, low)


def counted(ground: Ground, profile: Profile, heights: FloatArray) -> FloatArray:
    """(k, n) mm2 of each room in the layer; rooms that have only just begun count as ordinary peel."""
    rooms = ground.rooms
    area = rooms.area[:, _layers(ground, heights)].T.copy()
    begun = heights[:, None] - rooms.begins >= profile.peel_layers * profile.layer_height_mm
    area *= begun & (heights[:, None] >= rooms.begins) & (heights[:, None] < rooms.ends)
    area[:, 0] = 0.0
    return np.asarray(area)


def _layers(ground: Ground, heights: FloatArray) -> NDArray[np.int64]:
    """(k,) the layer of voxels that each height lies in."""
    voxels = ground.rooms.voxels
    layer = np.floor((heights - voxels.origin[2]) / voxels.size + 0.5).astype(np.int64)
    return np.asarray(np.clip(layer, 0, ground.rooms.area.shape[1] - 1))


def seep_of(ground: Ground, heights: FloatArray, area: FloatArray, gap: float, resin: Liquid) -> FloatArray:
    """(k, n) m3/(s Pa) that comes in under the rims: plane flow through the gap, P h^3/(12 mu w)."""
    layer = _layers(ground, heights)
    # No rim is shorter than that of a disc.
    rim = np.maximum(ground.perimeter[:, layer].T, 2.0 * np.sqrt(np.pi * area)) * (area > 0.0)
    found: FloatArray = rim * gap**3 / (12.0 * resin.viscosity * ground.rim[layer][:, None]) * 1e-9
    return found


def _held(ways: Sequence[Way], heights: FloatArray, profile: Profile, air: Flags, n: int) -> FloatArray:
    """(k, n) Pa that air must overcome to enter wet vents, for rooms all of whose open vents lie above the resin."""
    least, wet = np.full((len(heights), n), np.inf), np.zeros((len(heights), n), dtype=bool)
    for k, way in enumerate(ways):
        if way.b != 0 or way.width <= 0.0:
            continue
        whole = heights >= way.high
        entry = entry_pressure(0.001 * profile.surface_tension_mn_m, 0.001 * way.width)
        least[:, way.a] = np.where(whole & air[:, k], np.minimum(least[:, way.a], entry), least[:, way.a])
        wet[:, way.a] |= whole & ~air[:, k]
    return np.where(wet | np.isinf(least), 0.0, least)


def complete_from(heights: FloatArray, fed: Flags, own: Sequence[Way], until: float) -> float:
    """Height from which a room breathes through a complete way; -inf for one that never does while it is a cup of its
    own: then all its suction is steady. fed: (k,) of the room; own: ways into it; until: where it joins another cup."""
    highs = [w.high for w in own]
    if not highs:
        return -math.inf
    breathing = fed & (heights >= min(highs)) & (heights < until)
    return float(heights[int(np.argmax(breathing))]) if breathing.any() else -math.inf
