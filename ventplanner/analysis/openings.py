"""Existing openings, measured: the bottleneck of a way out, refined against the triangles."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from ventplanner.analysis.clearance import WIDER_THAN_WAY_OUT, Chambers, WayOut
from ventplanner.analysis.cups import Cups
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.solid import FloatArray, IntArray

MOST_REFINED = 40
"""Openings measured exactly; a sieve has thousands, and their rough widths say enough."""


MOST_REFINED_MM, MOST_REFINED_VOXELS = 8.0, 12.0
"""Mouths wider than both are given to the nearest voxel: nothing is decided by their tenths."""

STAY_FREE = 0.9
"""Steps of a search are at most this share of the clearance they start from."""

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


def confirmed(chambers: Chambers, vertices: FloatArray, faces: IntArray) -> tuple[Chambers, dict[int, list[Opening]]]:
    """Chambers that are still clearly wider than their widest way out when both are measured exactly.

    Voxels make narrow slanted ways look narrower than they are. Returns the chambers and the openings of each.
    """
    keep = np.ones(chambers.count + 1, dtype=bool)
    measured: dict[int, list[Opening]] = {}
    voxel = chambers.voxels.size
    for number in range(1, chambers.count + 1):
        ways = [w for w in chambers.ways_out if w.chamber == number][:MOST_REFINED]
        measured[number] = [measure(w, vertices, faces, voxel) for w in ways]
        widest = max((o.width for o in measured[number]), default=0.0)
        # Where the rough widths are clear, exact ones change nothing.
        if chambers.inscribed[number] < WIDER_THAN_WAY_OUT * widest + 2.0 * voxel:
            inscribed = 2.0 * _greatest_clearance(chambers, number, vertices, faces)
            keep[number] = inscribed >= WIDER_THAN_WAY_OUT * widest
    kept = [n for n in range(1, chambers.count + 1) if keep[n]]
    renumbered = {new: measured[old] for new, old in enumerate(kept, start=1)}
    names = {0: 0} | {old: new for new, old in enumerate(kept, start=1)}
    openings = {n: [replace(o, beyond=names.get(o.beyond, 0)) for o in own] for n, own in renumbered.items()}
    return (chambers if keep.all() else chambers.only(keep)), openings


def _greatest_clearance(chambers: Chambers, number: int, vertices: FloatArray, faces: IntArray) -> float:
    """Radius in mm of the largest ball in a chamber: a pattern search from its widest voxel."""
    centre, voxel = chambers.widest_at[number], chambers.voxels.size
    near = NearTriangles.around(vertices, faces, centre, float(chambers.inscribed[number]) + 2.0 * voxel)
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


def measure(way: WayOut, vertices: FloatArray, faces: IntArray, voxel: float) -> Opening:
    """Refine a way out: along its direction the clearance is least at the throat, across it is greatest on the axis.

    A saddle of the distance to the skin: for planes across the direction, a pattern search (Hooke & Jeeves 1961)
    finds the greatest clearance in the plane; the throat is the plane where that is least. vertices: build axes.
    """
    if way.width > max(MOST_REFINED_MM, MOST_REFINED_VOXELS * voxel):
        return Opening(way.at, way.width, way.outwards, way.beyond)
    # The balls looked at are little wider than the rough width, and their centres stay near it.
    drift = voxel
    near = NearTriangles.around(
        vertices, faces, way.at, 0.5 * way.width + 1.5 * voxel + drift + (PLANES + 1) * PLANE_STEP * voxel
    )
    if near is None:
        return Opening(way.at, way.width, way.outwards, way.beyond)
    across = _across(way.outwards)
    best, least = middle, at_middle = _widest_in_plane(near, way.at, across, (0.5 * voxel, 0.02), drift)
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


def _across(direction: FloatArray) -> FloatArray:
    """(2, 3) two unit vectors square to a direction."""
    helper = np.eye(3)[int(np.argmin(np.abs(direction)))]
    first = np.cross(direction, helper)
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(direction, first)])


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


def mouths(cups: Cups, number: int, height: float) -> tuple[Opening, ...]:
    """The mouths of a cup in no cavity: in its section just below the height where it opens, each separate part that
    is open above, with the largest disc in it; widest first."""
    runs = cups.tree.runs
    grid = runs.grid
    z = height - min(0.5 * grid.pitch, 0.25 * (height - cups.cups[number].from_height))
    columns = np.arange(grid.n_columns, dtype=np.int64)
    x, y = grid.centres(columns)
    inside = cups.cup_at(np.stack((x, y, np.full(len(x), z)), axis=1)) == number
    open_above = np.zeros(grid.n_columns, dtype=bool)
    run = runs.run_in(columns[inside], np.full(int(inside.sum()), z))
    open_above[inside] = runs.z1[run] > height + grid.pitch
    parts, count = ndimage.label(inside.reshape(grid.ny, grid.nx), structure=np.ones((3, 3)))
    found = []
    for part in range(1, count + 1):
        here = parts == part
        if not open_above[here.ravel()].any():
            continue
        gap = ndimage.distance_transform_edt(np.pad(here, 1))[1:-1, 1:-1].ravel()
        best = int(np.argmax(gap))
        at = np.array([x[best], y[best], height])
        found.append(Opening(at, (2.0 * float(gap[best]) - 1.0) * grid.pitch, np.array([0.0, 0.0, 1.0])))
    return tuple(sorted(found, key=lambda o: -o.width))
