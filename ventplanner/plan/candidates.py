"""Straight ways from a cup to the open outside through one wall: many of them, measured on the column runs.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.cavities import component_at
from ventplanner.analysis.cups import Cup, Cups
from ventplanner.analysis.findings import Findings
from ventplanner.geometry.columns import Runs
from ventplanner.geometry.join_tree import JoinTree
from ventplanner.geometry.ray_kernels import ENCLOSED, OPEN, march
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.plan.fitting import PLATE_RIM_MM
from ventplanner.weight_parameters import LOST

DIRECTIONS = 320
"""Directions over the sphere, about 11 degrees apart."""

TARGETS = 10
"""Places near the start of a cup from which ways are looked for."""

START_BAND_MM = 2.0
"""Places that begin within this height of the start count as near it."""

SINK_MM = 0.15
"""A hole reaches this far below the floor of the cup, so that it is open before the cup begins."""

RIM_ROOM = 1.25
"""On the plate a hole is sought this much above the least rim: less is hard to fit, more opens too late."""

HEIGHT_WEIGHT = LOST.default
"""A mm of height lost is as bad as this many mm of wall: suction acts on the whole section, a long hole only costs
a drill stroke."""

TOO_LATE_WEIGHT = 10.0
"""Each mm of height lost beyond what makes a cup late is as bad as this many mm of wall more."""

THIN_WALL_MM = 0.3
"""A wall thinner than this is no sound place for a hole rim."""


@dataclass(frozen=True, eq=False)
class Ways:
    """Candidate ways, best first. origin: (k, 3) build points in the void; direction: (k, 3) outwards, unit; inner,
    outer: (k,) mm along the ray where the wall begins and ends; lost: (k,) mm of height above the start before the
    hole opens; cost: (k,) mm of wall that would be as bad, see `HEIGHT_WEIGHT`."""

    origin: FloatArray
    direction: FloatArray
    inner: FloatArray
    outer: FloatArray
    lost: FloatArray
    cost: FloatArray

    def take(self, index: NDArray[np.int64]) -> Ways:
        """The ways of these numbers, in this order."""
        return Ways(*(getattr(self, f.name)[index] for f in fields(self)))

    def varied(self, count: int, alike: int = 3) -> list[int]:
        """Ways worth fitting: the best `count`, of each direction no more than `alike`; then the best of each sector.

        Near-equals fail for the same reason, and so may all the cheapest ones: the last `count` are taken in rounds,
        the best of every sector of directions, then the second best.
        """
        seen: dict[tuple[float, ...], int] = {}
        chosen: list[int] = []
        for k in range(len(self)):
            key = tuple(self.direction[k].tolist())
            seen[key] = seen.get(key, 0) + 1
            if seen[key] <= alike:
                chosen.append(k)
            if len(chosen) == count:
                break
        rest = np.setdiff1d(np.arange(len(self)), chosen)
        sector = np.rint(1.1 * self.direction[rest]) @ np.array([9.0, 3.0, 1.0])
        rank = np.zeros(len(rest), dtype=np.int64)
        for name in np.unique(sector):
            rank[sector == name] = np.arange(int((sector == name).sum()))
        return chosen + [int(k) for k in rest[np.lexsort((rest, rank))][:count]]

    def __len__(self) -> int:
        return len(self.cost)


@dataclass(frozen=True)
class Misses:
    """Why rays were no ways: how many of each kind, and the shortest wall that was too long (mm, None if none)."""

    tried: int
    too_long: int
    enclosed: int
    shortest_mm: float | None


def sphere_directions(count: int = DIRECTIONS) -> FloatArray:
    """(count + 14, 3) unit vectors: axes, corners, and a Fibonacci lattice (Gonzalez 2010, Math. Geosci. 42, 49)."""
    k = np.arange(count) + 0.5
    z = 1.0 - 2.0 * k / count
    angle = np.pi * (1.0 + np.sqrt(5.0)) * k
    flat = np.sqrt(1.0 - z * z)
    lattice = np.stack((flat * np.cos(angle), flat * np.sin(angle), z), axis=1)
    corners = np.array([(x, y, w) for x in (-1, 1) for y in (-1, 1) for w in (-1, 1)]) / np.sqrt(3.0)
    return np.concatenate((np.vstack((np.eye(3), -np.eye(3))), corners, lattice))


def targets_near_start(tree: JoinTree, cups: Cups, number: int) -> FloatArray:
    """(k, 3) build points on the floor of a cup near its start, the start itself first, well spread."""
    cup = cups.cups[number]
    own = cups.runs_of(number)
    own = own[tree.runs.z0[own] <= cup.from_height + START_BAND_MM]
    x, y = tree.runs.grid.centres(tree.runs.column_of_run[own])
    floor = np.stack((x, y, tree.runs.z0[own]), axis=1)
    return spread(np.vstack((cup.start[None], floor)), TARGETS)


def spread(points: FloatArray, count: int) -> FloatArray:
    """Farthest-point selection (Gonzalez 1985, Theor. Comput. Sci. 38, 293) that begins with the first point."""
    chosen = [0]
    gap = np.linalg.norm(points - points[0], axis=1)
    while len(chosen) < min(count, len(points)) and gap.max() > 0.5:
        chosen.append(int(np.argmax(gap)))
        gap = np.minimum(gap, np.linalg.norm(points - points[chosen[-1]], axis=1))
    return points[chosen]


def ways_out(
    findings: Findings, tree: JoinTree, cup: Cup, targets: FloatArray, radius: float, longest: float
) -> tuple[Ways, Misses]:
    """All straight ways from the targets to the open outside. radius, longest (wall): mm."""
    directions = sphere_directions()
    directions = directions[directions[:, 2] <= 0.5]  # steeper upwards, the hole would open far above the start
    flat = np.sqrt(1.0 - directions[:, 2] ** 2)
    origin = raised(findings, targets, directions, radius)
    direction = np.broadcast_to(directions, origin.shape)
    origin, direction = origin.reshape(-1, 3), np.ascontiguousarray(direction.reshape(-1, 3))
    origin = _under_ceiling(tree.runs, origin, np.repeat(targets, len(directions), axis=0))
    wall, ends = march_rays(tree, origin, direction, longest)
    half = np.tile(radius * flat, len(targets))
    lost = height_lost(tree.runs, origin, direction, wall, half, cup.from_height)
    late = _height_that_is_late(findings, cup, lost)
    cost = HEIGHT_WEIGHT * lost + TOO_LATE_WEIGHT * late + wall_length(wall)
    ways = Ways(origin, direction, wall[:, 0], wall[:, 1], lost, cost)
    good, misses = _judge(findings, ways, ends, half, longest)
    index = np.flatnonzero(good)
    # The march is exact to half a step; among equals the lower way, then the directions in their order (axes first).
    keys = (index, index % len(directions), np.round(direction[index, 2], 6), np.round(ways.cost[index], 1))
    ordered = ways.take(index[np.lexsort(keys)])
    return _marked_last(findings, ordered, radius), misses


def raised(findings: Findings, targets: FloatArray, direction: FloatArray, radius: float) -> FloatArray:
    """(k, m, 3) build points over targets, (k, 3): just so high that a hole of a radius (mm) begins with its cup; on
    the plate, so high that its rim stays. direction: of its axis, (m, 3) or (k, m, 3) unit."""
    flat = np.sqrt(np.maximum(1.0 - direction[..., 2] ** 2, 0.0))
    lift = np.maximum(radius * flat - SINK_MM, 0.02)
    origin: FloatArray = targets[:, None] + lift[..., None] * np.array([0.0, 0.0, 1.0])
    if findings.pose.on == "plate":
        origin[..., 2] = np.maximum(origin[..., 2], RIM_ROOM * PLATE_RIM_MM + radius * flat)
    return origin


def _marked_last(findings: Findings, ways: Ways, radius: float) -> Ways:
    """The same ways, first those that seem to stay off the surface to be kept clear: only so many are ever fitted."""
    if findings.kept_clear is None or not len(ways):
        return ways
    ends = (ways.origin + reach[:, None] * ways.direction for reach in (ways.inner, ways.outer))
    marked = np.any([findings.kept_clear.is_near(end, radius) for end in ends], axis=0)
    return ways.take(np.argsort(marked, kind="stable"))


def march_rays(
    tree: JoinTree, origin: FloatArray, direction: FloatArray, longest: float
) -> tuple[FloatArray, IntArray]:
    """`march` through the runs of a tree: (k, 2) wall begin and end in mm, (k,) how each ray ends."""
    runs = tree.runs
    wall, ends = np.empty((len(origin), 2)), np.empty(len(origin), dtype=np.int32)
    grid = np.array([runs.grid.x0, runs.grid.y0, runs.grid.pitch])
    shape = np.array([runs.grid.nx, runs.grid.ny], dtype=np.int64)
    reach = float(np.hypot(runs.grid.nx, runs.grid.ny) * runs.grid.pitch)
    march(
        np.ascontiguousarray(origin), np.ascontiguousarray(direction), 0.5 * runs.grid.pitch, reach, 4.0 * longest,
        grid, shape, runs.offsets, runs.z0, runs.z1, tree.branch_of_run, tree.parent, tree.merge, wall, ends,
    )  # fmt: skip
    return wall, ends


def wall_length(wall: FloatArray) -> FloatArray:
    """(k,) mm of wall of each ray of `march_rays`; inf where it has no end."""
    whole = np.isfinite(wall).all(axis=1)
    return np.where(whole, np.where(whole, wall[:, 1], 0.0) - np.where(whole, wall[:, 0], 0.0), np.inf)


def height_lost(
    runs: Runs, origin: FloatArray, direction: FloatArray, wall: FloatArray, half_height: FloatArray, start: float
) -> FloatArray:
    """mm above the start before the hole is open.

    Its lowest line is open where it is highest, at one of its ends; and the cup must have come so far: the hole meets
    its floor at the inner end. half_height: (k,) the hole's radius seen along the build direction.
    """
    reach = np.where(np.isfinite(wall), wall, 0.0)
    ends_z = origin[:, 2, None] + reach * direction[:, 2, None]
    lowest_line = ends_z.max(axis=1) - half_height
    inner = origin + np.maximum(reach[:, :1] - 0.5 * runs.grid.pitch, 0.0) * direction
    run = runs.run_at(inner)
    floor = np.where(run >= 0, runs.z0[np.maximum(run, 0)], inner[:, 2])
    return np.asarray(np.maximum(np.maximum(lowest_line, floor) - start, 0.0))


def _height_that_is_late(findings: Findings, cup: Cup, lost: FloatArray) -> FloatArray:
    """mm of height lost beyond what is allowed, where the volume sealed by then is more than allowed, too."""
    step = findings.scene.height / len(cup.area)
    sealed = np.concatenate(([0.0], np.cumsum(cup.area) * step))
    bins = np.clip((cup.from_height + lost) / step, 0, len(cup.area)).astype(np.int64)
    too_much = sealed[bins] > findings.options.late_mm3
    return np.where(too_much, np.maximum(lost - findings.options.late_mm, 0.0), 0.0)


def _under_ceiling(runs: Runs, origin: FloatArray, floor: FloatArray) -> FloatArray:
    """Origins that a low ceiling covers are put halfway between floor and ceiling."""
    run = runs.run_in(runs.grid.column_at(floor[:, 0], floor[:, 1]), floor[:, 2] + 1e-4)
    ceiling = np.where(run >= 0, runs.z1[np.maximum(run, 0)], origin[:, 2])
    covered = origin[:, 2] > ceiling - 0.02
    lifted = origin.copy()
    lifted[covered, 2] = 0.5 * (floor[covered, 2] + ceiling[covered])
    return lifted


def in_a_hollow(findings: Findings, points: FloatArray) -> NDArray[np.bool_]:
    """(k,) bool: build points in a chamber, a sealed cavity or a cup of the part as it came: no place to drill from."""
    hollow = findings.chambers.voxels.chamber_at(points) > 0
    hollow |= component_at(findings.scene, points) > 0
    return np.asarray(hollow | (findings.cups.cup_at(points) >= 0))


def _judge(
    findings: Findings, ways: Ways, ends: IntArray, half_height: FloatArray, longest: float
) -> tuple[NDArray[np.bool_], Misses]:
    """Which rays are ways out at all, and why the others are not."""
    length = ways.outer - np.where(np.isfinite(ways.outer), ways.inner, 0.0)
    through = ends == OPEN
    end = np.where(np.isfinite(ways.outer), ways.outer, 0.0)
    outside = ways.origin + (end + 0.2)[:, None] * ways.direction
    # A hollow that breathes by now is not the outside: a hole into it would be a passage.
    into_hollow = np.zeros(len(ways), dtype=bool)
    for further in (0.2, 0.2 + findings.scene.runs.grid.pitch):
        place = ways.origin + (end + further)[:, None] * ways.direction
        into_hollow |= in_a_hollow(findings, place)
    good = through & (length <= longest) & (length >= THIN_WALL_MM) & ~into_hollow
    if findings.pose.on == "plate":
        # At both ends the hole keeps its rim above the plate.
        inside = ways.origin[:, 2] + np.where(np.isfinite(ways.inner), ways.inner, 0.0) * ways.direction[:, 2]
        good &= np.minimum(outside[:, 2], inside) - half_height >= PLATE_RIM_MM
    too_long = through & (length > longest) & ~into_hollow
    misses = Misses(
        len(ends),
        int(too_long.sum()),
        int(((ends == ENCLOSED) | (through & into_hollow)).sum()),
        float(length[too_long].min()) if too_long.any() else None,
    )
    return good, misses
