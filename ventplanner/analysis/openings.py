"""Existing openings, measured: the bottleneck of a way out, refined against the triangles."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy import ndimage

from ventplanner.analysis.clearance import WIDER_THAN_WAY_OUT, Chambers, WayOut
from ventplanner.analysis.cups import Cups
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.join_tree import JoinTree
from ventplanner.geometry.rays import Target, square_to
from ventplanner.geometry.solid import FloatArray

MOST_REFINED = 40
"""Openings of a cavity that are measured and listed, the widest first; a sieve has thousands."""


MOST_REFINED_MM, MOST_REFINED_VOXELS = 8.0, 12.0
"""Mouths wider than both are given to the nearest voxel: nothing is decided by their tenths."""

STAY_FREE = 0.9
"""Steps of a search are at most this share of the clearance they start from."""

MOST_DRIFTS = 3
"""So often the search for the axis goes on from where it stopped at its limit."""

MOST_FOLLOWED = 6
"""So often the search along a narrow way goes on from its narrowest place."""

NARROWER_MM = 0.01
"""As long as that makes it narrower by this much."""

LONGEST_BORE_MM = 10.0
"""Two places farther apart are never those of one bore (own judgement)."""

LEAST_COSINE = 0.5
"""The axis of a narrow way lies within 60 degrees of what its columns say."""

PLANES, PLANE_STEP = 6, 0.3
"""The throat is looked for in this many planes on either side, this many voxels apart."""


@dataclass(frozen=True, eq=False)
class Opening:
    """An existing way out. at: (3,) build point in its throat; width: mm, diameter of the largest ball that passes;
    outwards: (3,) unit; beyond: number of the chamber it leads to, 0 for the outside."""

    at: FloatArray
    width: float
    outwards: FloatArray
    beyond: int = 0


def confirmed(chambers: Chambers, target: Target) -> tuple[Chambers, dict[int, list[Opening]]]:
    """Chambers that are still clearly wider than their widest way out when both are measured exactly.

    Voxels make narrow slanted ways look narrower than they are. Returns the chambers and the openings of each.
    """
    keep = np.ones(chambers.count + 1, dtype=bool)
    measured: dict[int, list[Opening]] = {}
    voxel = chambers.voxels.size
    for number in range(1, chambers.count + 1):
        ways = [w for w in chambers.ways_out if w.chamber == number][:MOST_REFINED]
        measured[number] = _distinct([_found(w, target, voxel) for w in ways], target)
        widest = max((o.width for o in measured[number]), default=0.0)
        # Where the rough widths are clear, exact ones change nothing.
        if chambers.inscribed[number] < WIDER_THAN_WAY_OUT * widest + 2.0 * voxel:
            inscribed = 2.0 * _greatest_clearance(chambers, number, target)
            keep[number] = inscribed >= WIDER_THAN_WAY_OUT * widest
    kept = [n for n in range(1, chambers.count + 1) if keep[n]]
    renumbered = {new: measured[old] for new, old in enumerate(kept, start=1)}
    names = {0: 0} | {old: new for new, old in enumerate(kept, start=1)}
    openings = {n: [replace(o, beyond=names.get(o.beyond, 0)) for o in own] for n, own in renumbered.items()}
    return (chambers if keep.all() else chambers.only(keep)), openings


def _greatest_clearance(chambers: Chambers, number: int, target: Target) -> float:
    """Radius in mm of the largest ball in a chamber: a pattern search from its widest voxel."""
    centre, voxel = chambers.widest_at[number], chambers.voxels.size
    near = NearTriangles.within(target, centre, float(chambers.inscribed[number]) + 2.0 * voxel)
    if near is None:
        return 0.5 * float(chambers.inscribed[number])
    clearance = float(near.distance(centre[None])[0])
    star = np.vstack((np.eye(3), -np.eye(3)))
    step = 0.5 * voxel
    while step > 0.01:
        found = near.distance(centre + step * star)
        best = int(np.argmax(found))
        if found[best] > clearance:
            centre, clearance = centre + step * star[best], float(found[best])
        else:
            step *= 0.5
    return clearance


def more_than_listed(chambers: Chambers) -> tuple[str, ...]:
    """Said where a cavity has more openings than are listed."""
    of = np.array([w.chamber for w in chambers.ways_out], dtype=np.int64)
    if not (np.bincount(of, minlength=1) > MOST_REFINED).any():
        return ()
    return (f"Only the {MOST_REFINED} widest openings of a cavity are measured and listed; here are more.",)


def _found(way: WayOut, target: Target, voxel: float) -> Opening:
    return measure(way, target, voxel) if way.seen == 0.0 else follow(way, target)


def _distinct(found: list[Opening], target: Target) -> list[Opening]:
    """Each opening once, widest first: a long way may have been met at two places."""
    kept: list[Opening] = []
    for one in sorted(found, key=lambda o: -o.width):
        if not any(o.beyond == one.beyond and _same_bore(o, one, target) for o in kept):
            kept.append(one)
    return kept


def _same_bore(a: Opening, b: Opening, target: Target) -> bool:
    """Whether all between two places is about as wide as they are."""
    apart = float(np.linalg.norm(a.at - b.at))
    if apart < 0.5 * min(a.width, b.width):
        return True
    if apart > LONGEST_BORE_MM or b.width < 0.5 * a.width:
        return False
    near = NearTriangles.within(target, 0.5 * (a.at + b.at), 0.5 * apart + a.width)
    between = a.at + np.linspace(0.0, 1.0, 2 + int(apart / (0.25 * b.width)))[:, None] * (b.at - a.at)
    room = near.distance(between) if near else np.zeros(1)
    return bool(room.min() > 0.3 * b.width and room.max() < 0.75 * a.width)


def follow(way: WayOut, target: Target) -> Opening:
    """Measure a way seen with fine voxels: along its own axis, and on from its narrowest place while that helps."""
    opening = measure(way, target, max(way.width, 2.0 * way.seen))
    for _ in range(MOST_FOLLOWED):
        near = NearTriangles.within(target, opening.at, 2.0 * opening.width)
        if near is None:
            break
        turned = replace(way, at=opening.at, width=opening.width, outwards=_axis(near, opening, way.outwards))
        before, opening = opening, measure(turned, target, max(0.5 * opening.width, way.seen))
        if opening.width > before.width - NARROWER_MM:
            # Off the mouth of a slit the most room is along it: then the first look was better.
            opening = min(before, opening, key=lambda o: round(o.width, 2))
            break
    return opening


def _axis(near: NearTriangles, opening: Opening, rough: FloatArray) -> FloatArray:
    """Direction in which a way goes on from its narrowest place both ways with the most room, not across its rough
    one: a slit has as much room along itself."""
    ways = _sphere()
    ways = ways[ways @ rough > LEAST_COSINE]
    step = max(0.5 * opening.width, 0.05)
    room = np.minimum(near.distance(opening.at + step * ways), near.distance(opening.at - step * ways))
    # Of directions as roomy as the best, to a hundredth of the width, their mean is in the middle.
    best = ways[room >= room.max() - 0.01 * opening.width]
    mean = best.mean(axis=0)
    return np.asarray(mean / np.linalg.norm(mean))


@cache
def _sphere() -> FloatArray:
    """Directions spread evenly over the sphere, some 5 degrees apart (Fibonacci's spiral; Swinbank & Purser 2006)."""
    n = np.arange(1500)
    z, turn = 1.0 - (2.0 * n + 1.0) / 1500, n * np.pi * (3.0 - np.sqrt(5.0))
    flat = np.sqrt(1.0 - z * z)
    return np.stack((flat * np.cos(turn), flat * np.sin(turn), z), axis=1)


def measure(way: WayOut, target: Target, voxel: float) -> Opening:
    """Refine a way out: along its direction the clearance is least at the throat, across it is greatest on the axis.

    A saddle of the distance to the skin: for planes across the direction, a pattern search (Hooke & Jeeves 1961)
    finds the greatest clearance in the plane; the throat is the plane where that is least. target: in build axes.
    """
    if way.width > max(MOST_REFINED_MM, MOST_REFINED_VOXELS * voxel):
        return Opening(way.at, way.width, way.outwards, way.beyond)
    # The balls looked at are little wider than the rough width, and their centres stay near it.
    drift = voxel
    near = NearTriangles.within(
        target, way.at, 0.5 * way.width + 1.5 * voxel + MOST_DRIFTS * drift + (PLANES + 1) * PLANE_STEP * voxel
    )
    if near is None:
        return Opening(way.at, way.width, way.outwards, way.beyond)
    across = square_to(way.outwards)
    best, least = middle, at_middle = _widest_on_axis(near, way.at, across, voxel)
    # From the middle outwards both ways, each plane starting from its neighbour's centre.
    for sign in (1.0, -1.0):
        centre, clearance = middle, at_middle
        for _ in range(PLANES):
            plane = centre + way.outwards * (sign * min(PLANE_STEP * voxel, STAY_FREE * clearance))
            centre, clearance = _widest_in_plane(near, plane, across, (0.25 * voxel, 0.02), drift)
            if clearance < least:
                least, best = clearance, centre
    best, least = _widest_in_plane(near, best, across, (0.02, 0.002), drift)
    return Opening(best, 2.0 * least, way.outwards, way.beyond)


def _widest_on_axis(
    near: NearTriangles, start: FloatArray, across: FloatArray, voxel: float
) -> tuple[FloatArray, float]:
    """The first plane's: a rough place beside the mouth may be more than a voxel off the axis, and where a search stops
    at its limit the clearance is not yet the greatest; it would pass for a throat."""
    centre, clearance = start, 0.0
    for _ in range(MOST_DRIFTS):
        before = centre
        centre, clearance = _widest_in_plane(near, before, across, (0.5 * voxel, 0.02), voxel)
        if np.linalg.norm(centre - before) < 0.75 * voxel:
            break
    return centre, clearance


def _widest_in_plane(
    near: NearTriangles, start: FloatArray, across: FloatArray, steps: tuple[float, float], drift: float
) -> tuple[FloatArray, float]:
    """Centre and radius of the largest ball centred in a plane, near a start. steps: first and last step, mm.

    The distance has no sign: a step stays within the free ball round its start, so that none ends inside a wall.
    """
    angle = np.arange(8) * (np.pi / 4)
    star = np.stack((np.cos(angle), np.sin(angle)), axis=1) @ across
    centre, clearance = start, float(near.distance(start[None])[0])
    step, last = steps
    while step >= last:
        around = centre + min(step, STAY_FREE * clearance) * star
        found = near.distance(around)
        best = int(np.argmax(found))
        if found[best] > clearance + 1e-12 and np.linalg.norm(around[best] - start) <= drift:
            centre, clearance = around[best], float(found[best])
        else:
            step *= 0.5
    return centre, clearance


def mouths(cups: Cups, number: int, target: Target) -> tuple[Opening, ...]:
    """Where a cup in no cavity first meets the outside: a hole in its wall, measured, or else its open top.

    Empty for a cup that ends in an older one, or is closed for good. target: the part in build axes.
    """
    cup, tree = cups.cups[number], cups.tree
    if cup.to_height is None or cup.joins_height is not None:
        return ()
    way = _way_through_wall(tree, int(tree.merge_run[cup.branch]), float(target.vertices[:, 2].max()))
    if way is not None:
        return (measure(way, target, max(tree.runs.grid.pitch, 0.5 * way.width)),)
    return _open_tops(cups, number, cup.to_height)


def _way_through_wall(tree: JoinTree, run: int, top: float) -> WayOut | None:
    """The hole whose floor is at this run, in its middle; None if it is open above. top: the part's height."""
    runs = tree.runs
    grid = runs.grid
    low, high = float(runs.z0[run]), float(runs.z1[run])
    if high > top:
        return None
    column = int(runs.column_of_run[run])
    beside = np.array([column + dx + dy * grid.nx for dy in (-1, 0, 1) for dx in (-1, 0, 1) if (dx, dy) != (0, 0)])
    near = np.concatenate([np.arange(runs.offsets[c], runs.offsets[c + 1]) for c in beside])
    near = near[(runs.z0[near] < high) & (runs.z1[near] > low)]
    here, around = (np.stack(grid.centres(runs.column_of_run[k]), axis=-1) for k in (np.array([run]), near))
    # From where the neighbours started in the cup to where they started outside.
    sides = np.where(tree.branch_of_run[near] == 0, 1.0, -1.0)
    way = (sides[:, None] * (around - here)).sum(axis=0)
    length = float(np.linalg.norm(way))
    outwards = np.array([*(way / length), 0.0]) if length > 1e-9 else np.array([0.0, 0.0, 1.0])
    return WayOut(0, 0, np.array([*here[0], 0.5 * (low + high)]), high - low, outwards)


def _open_tops(cups: Cups, number: int, height: float) -> tuple[Opening, ...]:
    """In the cup's section just below the height where it opens, each separate part that is open above, with the
    largest disc in it; widest first."""
    runs = cups.tree.runs
    grid = runs.grid
    z = height - min(0.5 * grid.pitch, 0.25 * (height - cups.cups[number].from_height))
    own = cups.columns_of(number)
    x, y = grid.centres(own)
    own = own[cups.cup_at(np.stack((x, y, np.full(len(own), z)), axis=1)) == number]
    if not len(own):
        return ()
    j, i = np.divmod(own, grid.nx)
    first = np.array([j.min() - 1, i.min() - 1])
    inside, above = np.zeros((2, int(np.ptp(j)) + 3, int(np.ptp(i)) + 3), dtype=bool)
    inside[j - first[0], i - first[1]] = True
    above[j - first[0], i - first[1]] = runs.z1[runs.run_in(own, np.full(len(own), z))] > height + grid.pitch
    parts, count = ndimage.label(inside, structure=np.ones((3, 3)))
    found = []
    for part in range(1, count + 1):
        here = parts == part
        if not above[here].any():
            continue
        gap = ndimage.distance_transform_edt(here)
        row, column = np.array(np.unravel_index(int(np.argmax(gap)), gap.shape)) + first
        (x0,), (y0,) = grid.centres(np.array([row * grid.nx + column]))
        width = (2.0 * float(gap.max()) - 1.0) * grid.pitch
        found.append(Opening(np.array([x0, y0, height]), width, np.array([0.0, 0.0, 1.0])))
    return tuple(sorted(found, key=lambda o: -o.width))
