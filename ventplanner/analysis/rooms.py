"""Rooms: hollows that hang together with the rest of the free space only through narrow ways, or over their rim.

A cup with a hole in its roof is open, and yet it sucks. So rooms are looked for in the free space made narrower: all
places with less than some clearance are taken away, for several such radii, and what then is a cup (closed from below
and from the sides up to some height) is a room if it is clearly wider than that. The largest radii come first, so two
chambers joined by a throat are two rooms. The rest of the space goes to the room it opens into most widely.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ventplanner.analysis.clearance import WIDER_THAN_WAY_OUT, Voxels, voxelise
from ventplanner.analysis.cups import Cups
from ventplanner.geometry import clearance_kernels as kernels
from ventplanner.geometry import room_kernels
from ventplanner.geometry.columns import ANY_CLASS, Grid, LongArray, Runs
from ventplanner.geometry.join_tree import JoinTree, join_tree
from ventplanner.geometry.solid import FloatArray, IntArray

WIDEST_MM = 3.5
"""Ways more than twice as wide as this never part two rooms: what flows through them meets next to no resistance (7 mm
wide and 2 mm long, with 0.3 Pa s: some 30 Pa at 1 cm3/s)."""

STEP = 1.4
"""From one radius to the next (own judgement)."""

FINEST_VOXELS = 0.75
"""Smallest radius in voxels; below that the voxels know nothing of widths."""

LEAST_VOXELS = 8
"""Fewer voxels make no room."""

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Rooms:
    """Rooms 1..n; index 0 of each array is the outside.

    voxels: `chamber` is the number of the room, 0 outside, -1 not free. area: (n + 1, nz) mm2, free area of each in
    each layer of voxels (exact in volume). begins, ends: build heights in mm between which a room is closed below and
    beside; `ends` is inf for one that never opens over a rim. inscribed: mm; widest_at: (n + 1, 3) build points.
    """

    voxels: Voxels
    area: FloatArray
    begins: FloatArray
    ends: FloatArray
    inscribed: FloatArray
    widest_at: FloatArray

    @property
    def count(self) -> int:
        """Number of rooms."""
        return len(self.begins) - 1

    def area_at(self, height: float) -> FloatArray:
        """(n + 1,) mm2 of each room in the layer at a height; 0 for those that have not begun, or are open above."""
        layer = int(np.clip((height - self.voxels.origin[2]) / self.voxels.size + 0.5, 0, self.area.shape[1] - 1))
        live = (height >= self.begins) & (height < self.ends)
        area: FloatArray = self.area[:, layer] * live
        return area

    def room_at(self, point: FloatArray, towards: FloatArray | None = None) -> int:
        """The room that holds a build point; looked for a little further on where the point lies in a wall's voxel."""
        way = np.zeros(3) if towards is None else np.asarray(towards)
        steps = np.arange(5) * (0.5 * self.voxels.size)
        found = self.voxels.chamber_at(point + steps[:, None] * way)
        known = found[found >= 0]
        return int(known[0]) if len(known) else 0


def find_rooms(cups: Cups, height: float, wall: float | None, least_mm3: float, least_mm: float) -> Rooms:
    """Rooms of the free space while printing.

    cups: of the part as it is, on runs with the plate if it lies on it; each that is too narrow to show as a room is
    one all the same. wall: thinnest wall in mm, if known. least_mm3, least_mm: rooms of less volume or height are none.
    """
    runs = cups.tree.runs
    voxels, room_mm3 = voxelise(runs, np.ones(len(runs.z0), dtype=bool), height, wall, WIDEST_MM)
    owner, begins, ends = _seeds(voxels, runs, least_mm)
    begins, ends = _narrow_cups(owner, voxels, cups, begins, ends)
    _grow(owner, voxels)
    layers = voxels.origin[2] + np.arange(owner.shape[2]) * voxels.size
    owner[(owner > 0) & (layers[None, None, :] >= ends[np.maximum(owner, 0)])] = 0
    area = _areas(owner, room_mm3, len(begins)) / voxels.size
    keep = area.sum(axis=1) * voxels.size >= least_mm3
    keep[0] = True
    number = np.where(keep, np.cumsum(keep) - 1, 0).astype(np.int32)
    area[0] += area[~keep].sum(axis=0)
    owner = np.where(owner > 0, number[np.maximum(owner, 0)], owner).astype(np.int32)
    found = Voxels(voxels.origin, voxels.size, owner, voxels.d2)
    inscribed, widest_at = _widest(found, int(keep.sum()))
    rooms = Rooms(found, area[keep], begins[keep], ends[keep], inscribed, widest_at)
    return replace(rooms, begins=_from_cups(rooms, cups))


def _from_cups(rooms: Rooms, cups: Cups) -> FloatArray:
    """Where the rooms begin: with a cup that starts in a narrow end of one, it begins there."""
    begins, up = rooms.begins.copy(), np.array([0.0, 0.0, 1.0])
    for cup in cups.cups:
        room = rooms.room_at(cup.start + 1e-3 * up, up)
        if room:
            begins[room] = min(begins[room], cup.from_height)
    return begins


def radii(size: float) -> FloatArray:
    """The radii in mm by which the space is made narrower, falling. size: of a voxel, mm."""
    smallest = FINEST_VOXELS * size
    count = max(1, int(np.ceil(np.log(WIDEST_MM / smallest) / np.log(STEP))) + 1) if smallest < WIDEST_MM else 1
    found: FloatArray = max(WIDEST_MM, smallest) / STEP ** np.arange(count, dtype=np.float64)
    return found


def _seeds(voxels: Voxels, runs: Runs, least_mm: float) -> tuple[IntArray, FloatArray, FloatArray]:
    """Room of each voxel that is wide enough to be in one (0 outside, -1 not yet known), begins and ends by room."""
    owner = np.full(voxels.d2.shape, -1, dtype=np.int32)
    flat, clearance = owner.ravel(), voxels.d2.ravel()
    begins, ends = [-np.inf], [np.inf]
    for number, radius in enumerate(radii(voxels.size)):
        wide = _Wide.of(voxels, (radius / voxels.size + 0.5) ** 2)
        where, branch = wide.enclosed()
        cup = _kept(wide.tree, branch, voxels, max(least_mm, 2.0 * voxels.size))[branch]
        if number == 0:
            owner[_at_rim(voxels.d2 >= wide.least)] = 0
            flat[where[cup != 0]] = -1
        order = np.argsort(cup, kind="stable")
        for b, own in _groups(cup[order], where[order]):
            before = flat[own]
            known = np.unique(before[before > 0])
            inscribed = (np.sqrt(float(clearance[own].max())) - 0.5) * voxels.size
            if len(known):
                if len(known) == 1:  # nearer to its walls it is the same room, up to its rim
                    flat[own[before < 0]] = known[0]
                continue
            if inscribed < WIDER_THAN_WAY_OUT * (radius + 0.5 * voxels.size):
                continue  # voxels tell widths to half of one: a slanted hole has such bulges all along
            flat[own[before < 0]] = len(begins)
            begins.append(_floor(own, voxels, runs, float(wide.tree.birth[b]) - radius))
            ends.append(float(wide.tree.opens[b]) - radius)
    return owner, np.array(begins), np.array(ends)


def _at_rim(wide: Flags) -> Flags:
    """And those at the rim of the grid, in place."""
    wide[0], wide[-1], wide[:, 0], wide[:, -1] = True, True, True, True
    wide[:, :, -1] = True
    return wide


def _groups(number: IntArray, items: LongArray) -> Iterator[tuple[int, LongArray]]:
    """Each number above 0 with its items. number: ascending."""
    firsts = np.flatnonzero(np.diff(number, prepend=-2))
    for first, last in zip(firsts, np.append(firsts, len(number))[1:], strict=True):
        if number[first] > 0:
            yield int(number[first]), items[first:last]


def _narrow_cups(
    owner: IntArray, voxels: Voxels, cups: Cups, begins: FloatArray, ends: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Add the cups that hold no part of any room."""
    has_room = np.zeros(len(cups.cups) + 1, dtype=bool)
    has_room[cups.cup_at(_centres(voxels, np.flatnonzero(owner > 0)))] = True
    more_begins, more_ends = list(begins), list(ends)
    if has_room[:-1].all():
        return np.array(more_begins), np.array(more_ends)
    where = np.flatnonzero((voxels.d2 > 0) & (owner <= 0))
    cup = cups.cup_at(_centres(voxels, where))
    for number, one in enumerate(cups.cups):
        own = where[cup == number]
        if has_room[number] or not len(own):
            continue
        owner.ravel()[own] = len(more_begins)
        more_begins.append(one.from_height)
        more_ends.append(np.inf if one.to_height is None else one.to_height)
    return np.array(more_begins), np.array(more_ends)


def _centres(voxels: Voxels, where: LongArray) -> FloatArray:
    """(k, 3) build points of voxels by flat number."""
    _, ny, nz = voxels.d2.shape
    points = np.empty((len(where), 3))
    room_kernels.centres(where, ny, nz, voxels.origin, voxels.size, points)
    return points


def _floor(own: LongArray, voxels: Voxels, runs: Runs, rough: float) -> float:
    """Height of the floor of a room, from the columns: a low one of those under its lowest voxels, not the very lowest,
    which may be in a hole."""
    index = np.stack(np.unravel_index(own, voxels.d2.shape), axis=1)
    lowest = index[index[:, 2] <= index[:, 2].min() + 2]
    run = runs.run_at(voxels.origin + lowest * voxels.size)
    floors = runs.z0[run[run >= 0]]
    floors = floors[floors > rough - 2.0 * voxels.size]
    return float(np.quantile(floors, 0.1)) if len(floors) else rough


@dataclass(frozen=True, eq=False)
class _Wide:
    """Voxels that are wide enough, as runs of columns of them, and the join tree of those. least: squared clearance in
    voxels. low, high: (n,) the first voxel of each run and the one after its last."""

    voxels: Voxels
    least: float
    tree: JoinTree
    low: IntArray
    high: IntArray

    @classmethod
    def of(cls, voxels: Voxels, least: float) -> _Wide:
        """The rim of the grid is the way round the part, however near to it."""
        nx, ny, nz = voxels.d2.shape
        offsets, none = np.empty(nx * ny + 1, dtype=np.int64), np.empty(0, dtype=np.int32)
        count = room_kernels.wide_runs(voxels.d2, least, offsets, none, none)
        low, high = np.empty(count, dtype=np.int32), np.empty(count, dtype=np.int32)
        room_kernels.wide_runs(voxels.d2, least, offsets, low, high)
        x, y, bottom = (voxels.origin - 0.5 * voxels.size).tolist()
        z0 = np.where(low == 0, -np.inf, bottom + low * voxels.size)
        z1 = np.where(high == nz, np.inf, bottom + high * voxels.size)
        free = np.full(count, ANY_CLASS, dtype=np.int32)
        runs = Runs(Grid(x, y, voxels.size, nx, ny), offsets, z0, z1, free, np.zeros(nx * ny, dtype=bool))
        return cls(voxels, least, join_tree(runs), low, high)

    def enclosed(self) -> tuple[LongArray, IntArray]:
        """Flat numbers of the voxels that are not outside when their own height is reached, and the branch of each."""
        tree, (nx, ny, nz) = self.tree, self.voxels.d2.shape
        most = int((self.high - self.low)[tree.enclosed_runs].sum())
        where, branch = np.empty(most, dtype=np.int64), np.empty(most, dtype=np.int32)
        count = room_kernels.enclosed_voxels(
            tree.runs.column_of_run, self.low, self.high, tree.branch_of_run, tree.parent, tree.merge,
            float(self.voxels.origin[2]), self.voxels.size, nx, ny, nz, where, branch,
        )  # fmt: skip
        return where[:count], branch[:count]


def _kept(tree: JoinTree, branch: IntArray, voxels: Voxels, least_mm: float) -> IntArray:
    """(b,) the branch that each one counts for: itself if it is large and deep enough, else the one it joins."""
    n = tree.n_branches
    size = np.bincount(branch, minlength=n)
    z = voxels.origin[2] + voxels.d2.shape[2] * voxels.size
    depth = np.minimum(tree.merge, z) - np.maximum(tree.birth, voxels.origin[2])
    large = (size >= LEAST_VOXELS) & (depth >= least_mm)
    large[0] = True
    at = np.arange(n)
    while True:
        small = ~large[at]
        if not small.any():
            break
        # What never joins anything and is small is of no account: it is left to the watershed.
        at[small] = np.maximum(tree.parent[at[small]], 0)
    lost = (tree.component != 0) & (at == 0)
    return np.where(lost, -1, at).astype(np.int32)


def _grow(owner: IntArray, voxels: Voxels) -> None:
    """Every free voxel goes to the room or the outside that it opens into most widely."""
    label = np.empty_like(owner)
    order = kernels.fall(voxels.d2, label)
    owner[(label == 0) & (owner < 0)] = 0
    free = voxels.d2 > 0
    owner[~free] = -2
    while kernels.flood(order, voxels.d2, owner):
        order = order[owner.ravel()[order] == -1]
    owner[owner == -2] = -1


def _areas(owner: IntArray, room_mm3: FloatArray, count: int) -> FloatArray:
    """(count, nz) mm3 of each room in each layer, with what is in voxels beside it that walls run through."""
    spread, total = np.empty_like(owner), np.empty(count * owner.shape[2])
    room_kernels.into_walls(owner, spread)
    room_kernels.room_by_layer(spread, room_mm3, total)
    return total.reshape(count, -1)


def _widest(voxels: Voxels, count: int) -> tuple[FloatArray, FloatArray]:
    inscribed, at = np.full(count, np.inf), np.zeros((count, 3))
    for room, box in enumerate(ndimage.find_objects(np.maximum(voxels.chamber, 0), max_label=count - 1), start=1):
        if box is None:  # nothing but slivers in the voxels of walls
            inscribed[room] = 0.0  # type: ignore[unreachable]
            continue
        d2 = np.where(voxels.chamber[box] == room, voxels.d2[box], 0)
        best = np.unravel_index(int(np.argmax(d2)), d2.shape)
        inscribed[room] = max(0.0, 2.0 * np.sqrt(float(d2[best])) - 1.0) * voxels.size
        at[room] = voxels.origin + (np.array(best) + [s.start for s in box]) * voxels.size
    return inscribed, at
