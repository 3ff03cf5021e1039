"""Throats: the narrow ways between rooms, and from rooms to the outside, with their true width, length and height."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ventplanner.analysis.clearance import Voxels, WayOut, ball_width
from ventplanner.analysis.openings import measure
from ventplanner.analysis.rooms import Rooms
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.rays import Target, square_to
from ventplanner.geometry.solid import FloatArray

WIDER = 1.25
"""A throat ends where the clearance on its axis is this many times that of its narrowest place."""

LONGEST_MM = 40.0
"""Throats longer than this are given as this long."""

STEEP = 0.7
"""Slope of the axis (its part along the build) from which a throat counts as leading down."""

STRIDE, TURN, STRAYED = 0.25, 0.25, 0.5
"""Of the walk through a throat: a step by its radius, the tangent of the turns it tries at each, and the share of the
radius under which it has run into a wall."""

MOST_MEASURED = 200
"""Throats measured exactly, the widest first; a lattice has thousands."""


@dataclass(frozen=True, eq=False)
class Throat:
    """A way between rooms `a` and `b` (0: the outside).

    at: (3,) build point at its narrowest. width: mm, the largest ball that passes. span: mm, how far it reaches across
    in its longer direction (a slit; at least the width). length: mm between its mouths. axis: (3,) unit from a to b.
    low, high: build heights between which it is printed.
    """

    a: int
    b: int
    at: FloatArray
    width: float
    span: float
    length: float
    axis: FloatArray
    low: float
    high: float


def find_throats(rooms: Rooms, target: Target) -> tuple[Throat, ...]:
    """All throats, by room, widest first. target: the part in build axes. What lies above a rim is none."""
    found: list[tuple[WayOut, _Patch]] = []
    size = rooms.voxels.size
    for a, b in _pairs(rooms.voxels):
        for way, patch in _patches(a, b, rooms.voxels, float(rooms.begins[a])):
            # An interface that lies where a room is open above is its rim.
            if b == 0 and patch.middle >= rooms.ends[a] - 1.5 * size:
                continue
            found.append((way, patch))
    found.sort(key=lambda w: -w[0].width)
    throats = [_measured(way, patch, target, size, n < MOST_MEASURED) for n, (way, patch) in enumerate(found)]
    return tuple(sorted(throats, key=lambda t: (t.a, t.b, -t.width)))


def _pairs(voxels: Voxels) -> list[tuple[int, int]]:
    """Rooms that touch: (a, b), a the one with the higher number, so that the outside is always b."""
    room = voxels.chamber
    pairs: set[tuple[int, int]] = set()
    n = int(room.max()) + 1
    for axis in range(3):
        first, second = np.delete(room, -1, axis), np.delete(room, 0, axis)
        touch = (first != second) & (first >= 0) & (second >= 0)
        high, low = np.maximum(first[touch], second[touch]), np.minimum(first[touch], second[touch])
        codes = np.unique(high.astype(np.int64) * n + low)
        pairs |= {(int(code // n), int(code % n)) for code in codes}
    return sorted(pairs)


@dataclass(frozen=True)
class _Patch:
    """Where two rooms touch, in voxels: area in mm2, its longest extent in mm, its lowest, middle and highest height,
    and the height where the room begins."""

    area: float
    extent: float
    low: float
    middle: float
    high: float
    begins: float


def _patches(a: int, b: int, voxels: Voxels, begins: float) -> list[tuple[WayOut, _Patch]]:
    """Each connected patch of a's voxels that touch b."""
    box = _box_of(a, voxels)
    room, d2 = voxels.chamber[box], voxels.d2[box]
    own, other = room == a, room == b
    edge = np.zeros(room.shape, dtype=bool)
    direction = np.zeros((*room.shape, 3))
    for axis in range(3):
        for sign in (1, -1):
            beside = np.roll(other, -sign, axis=axis)
            # The box has a margin, so nothing of `a` lies where the roll wraps round.
            touches = own & beside
            edge |= touches
            direction[..., axis] += sign * touches
    patches, count = ndimage.label(edge, structure=np.ones((3, 3, 3)))
    corner = np.array([s.start for s in box])
    found = []
    for patch in range(1, count + 1):
        index = np.argwhere(patches == patch)
        clearance = d2[tuple(index.T)]
        best = index[int(np.argmax(clearance))]
        outwards = direction[tuple(index.T)].sum(axis=0)
        norm = float(np.linalg.norm(outwards))
        axis_of = outwards / norm if norm > 0 else np.array([0.0, 0.0, 1.0])
        width = float(ball_width(np.array([clearance.max()]), voxels.size)[0])
        way = WayOut(a, b, voxels.origin + (best + corner) * voxels.size, width, axis_of)
        low, middle, high = (
            float(voxels.origin[2] + (k + corner[2]) * voxels.size)
            for k in (index[:, 2].min() - 0.5, np.median(index[:, 2]), index[:, 2].max() + 0.5)
        )
        extent = (_extent(index) + 1.0) * voxels.size
        found.append((way, _Patch(max(norm, 1.0) * voxels.size**2, extent, low, middle, high, begins)))
    return found


def _extent(index: LongArray) -> float:
    """Longest extent of voxels along their principal axis, in voxels, between centres."""
    centred = index - index.mean(axis=0)
    if len(index) < 2:
        return 0.0
    along = centred @ np.linalg.eigh(centred.T @ centred)[1][:, -1]
    return float(np.ptp(along))


def _box_of(room: int, voxels: Voxels) -> tuple[slice, ...]:
    (found,) = ndimage.find_objects((voxels.chamber == room).astype(np.int8))
    shape = voxels.chamber.shape
    return tuple(slice(max(s.start - 1, 0), min(s.stop + 1, n)) for s, n in zip(found, shape, strict=True))


def _measured(way: WayOut, patch: _Patch, target: Target, size: float, exactly: bool) -> Throat:
    opening = measure(way, target, size) if exactly else None
    at, width = (opening.at, opening.width) if opening else (way.at, way.width)
    width = max(width, 0.05 * size)
    span = _span(patch, width, size)
    back, forth = _mouths(at, way.outwards, width, target)
    length, middle = back + forth, at + 0.5 * (forth - back) * way.outwards
    low, high = _printed_between(patch, middle, way.outwards, width, length)
    return Throat(way.chamber, way.beyond, at, width, span, length, way.outwards, low, high)


def _printed_between(
    patch: _Patch, middle: FloatArray, axis: FloatArray, width: float, length: float
) -> tuple[float, float]:
    """Build heights between which a throat is printed: those of a round hole of this width and length, as far as the
    rooms touch there. One that leads down out of a room is complete when the room begins."""
    rise = abs(float(axis[2]))
    reach = 0.5 * (width * np.sqrt(max(0.0, 1.0 - rise**2)) + length * rise)
    low = max(float(middle[2]) - reach, patch.low - length * rise)
    high = min(float(middle[2]) + reach, patch.high + length * rise)
    if float(axis[2]) < -STEEP:
        high = min(high, max(patch.begins, low))
    return min(low, high), high


def _span(patch: _Patch, width: float, size: float) -> float:
    """How far a throat reaches across. Its area in voxels is a rough one: only a clearly long one makes a slit; of a
    straight one the extent says it better, of one that runs round something the area does."""
    if patch.area <= 2.0 * width**2 or width >= 4.0 * size:
        return width
    around = patch.area / width
    return max(width, patch.extent if patch.extent <= around <= 1.5 * patch.extent else around)


def _mouths(at: FloatArray, axis: FloatArray, width: float, target: Target) -> tuple[float, float]:
    """mm from the narrowest place to the mouth of `a`, and to that of `b`.

    Beyond the mouth of a round hole of radius r the clearance on its axis is sqrt(r^2 + x^2): WIDER r at x = 0.75 r.
    """
    found = []
    for sign in (-1.0, 1.0):
        end = _widens(at, sign * axis, 0.5 * width, target)
        # Where it never gets wider the room itself is no wider: the throat is its mouth.
        found.append(0.0 if end is None else end - float(np.sqrt(WIDER**2 - 1.0)) * 0.5 * width)
    # The narrowest place may lie anywhere along a tube, and a hair outside it.
    back, forth = found
    return (max(back, -forth), max(forth, -back))


def _widens(at: FloatArray, way: FloatArray, radius: float, target: Target) -> float | None:
    """How far a walk along the middle of a throat comes before the clearance exceeds WIDER times a radius; None if it
    does not within half of LONGEST_MM, or if the way ends. The walk bends as the throat does."""
    step = max(STRIDE * radius, 0.02)
    place, clearance, gone = at, radius, 0.0
    near, known = None, 0.0
    while gone < 0.5 * LONGEST_MM:
        if near is None or gone > known:
            reach = 4.0 * radius + 1.0
            near, known = NearTriangles.within(target, place, reach + (WIDER + 1.0) * radius + step), gone + reach
            if near is None:
                return gone
        across = square_to(way)
        turned = way + np.vstack((np.zeros(3), TURN * across, -TURN * across))
        turned /= np.linalg.norm(turned, axis=1)[:, None]
        room = near.distance(place + step * turned)
        best = int(np.argmax(room))
        if room[best] < STRAYED * radius:
            return None
        before, clearance = clearance, float(room[best])
        place, way = place + step * turned[best], turned[best]
        if clearance > WIDER * radius:
            share = (WIDER * radius - before) / max(clearance - before, 1e-9)
            return gone + step * min(max(share, 0.0), 1.0)
        gone += step
    return None
