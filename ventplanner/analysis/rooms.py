"""Rooms: hollows that hang together with the rest of the free space only through narrow ways, or over their rim.

A cup with a hole in its roof is open, and yet it sucks. So rooms are looked for in the free space made narrower: all
places with less than some clearance are taken away, for several such radii, and what then is a cup (closed from below
and from the sides up to some height) is a room if it is clearly wider than that. The largest radii come first, so two
chambers joined by a throat are two rooms. The rest of the space goes to the room it opens into most widely.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ventplanner.analysis.clearance import WIDER_THAN_WAY_OUT, Voxels, voxelise
from ventplanner.analysis.cups import Cups
from ventplanner.geometry import clearance_kernels as kernels
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
    spread = _into_walls(owner)
    volume = np.bincount(spread[spread >= 0], weights=room_mm3[spread >= 0], minlength=len(begins))
    keep = volume >= least_mm3
    keep[0] = True
    number = np.where(keep, np.cumsum(keep) - 1, 0).astype(np.int32)
    owner = np.where(owner > 0, number[np.maximum(owner, 0)], owner)
    spread = np.where(spread > 0, number[np.maximum(spread, 0)], spread)
    area = _areas(spread, room_mm3, int(keep.sum()), voxels.size)
    found = Voxels(voxels.origin, voxels.size, owner.astype(np.int32), voxels.d2)
    inscribed, widest_at = _widest(found, int(keep.sum()))
    rooms = Rooms(found, area, begins[keep], ends[keep], inscribed, widest_at)
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
    begins, ends = [-np.inf], [np.inf]
    for number, radius in enumerate(radii(voxels.size)):
        wide = voxels.d2 >= (radius / voxels.size + 0.5) ** 2
        _open_rim(wide)
        tree = _tree(wide, voxels)
        where, branch = _branches(wide, tree, voxels)
        kept = _kept(tree, branch, voxels, max(least_mm, 2.0 * voxels.size))
        cup = kept[branch]
        if number == 0:
            owner.ravel()[where[cup == 0]] = 0
        for b in np.unique(cup[cup > 0]):
            own = where[cup == b]
            before = owner.ravel()[own]
            known = np.unique(before[before > 0])
            inscribed = (np.sqrt(float(voxels.d2.ravel()[own].max())) - 0.5) * voxels.size
            if len(known):
                if len(known) == 1:  # nearer to its walls it is the same room, up to its rim
                    owner.ravel()[own[before < 0]] = known[0]
                continue
            if inscribed < WIDER_THAN_WAY_OUT * (radius + 0.5 * voxels.size):
                continue  # voxels tell widths to half of one: a slanted hole has such bulges all along
            owner.ravel()[own[before < 0]] = len(begins)
            begins.append(_floor(own, voxels, runs, float(tree.birth[b]) - radius))
            ends.append(float(tree.opens[b]) - radius)
    return owner, np.array(begins), np.array(ends)


def _narrow_cups(
    owner: IntArray, voxels: Voxels, cups: Cups, begins: FloatArray, ends: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Add the cups that hold no part of any room."""
    where = np.flatnonzero((voxels.d2 > 0) & (owner <= 0))
    points = voxels.origin + np.stack(np.unravel_index(where, voxels.d2.shape), axis=1) * voxels.size
    cup = cups.cup_at(points)
    has_room = np.zeros(len(cups.cups) + 1, dtype=bool)
    inside = np.flatnonzero(owner > 0)
    if len(inside):
        at = voxels.origin + np.stack(np.unravel_index(inside, voxels.d2.shape), axis=1) * voxels.size
        has_room[cups.cup_at(at)] = True
    more_begins, more_ends = list(begins), list(ends)
    for number, one in enumerate(cups.cups):
        own = where[cup == number]
        if has_room[number] or not len(own):
            continue
        owner.ravel()[own] = len(more_begins)
        more_begins.append(one.from_height)
        more_ends.append(np.inf if one.to_height is None else one.to_height)
    return np.array(more_begins), np.array(more_ends)


def _floor(own: LongArray, voxels: Voxels, runs: Runs, rough: float) -> float:
    """Height of the floor of a room, from the columns: a low one of those under its lowest voxels, not the very lowest,
    which may be in a hole."""
    index = np.stack(np.unravel_index(own, voxels.d2.shape), axis=1)
    lowest = index[index[:, 2] <= index[:, 2].min() + 2]
    run = runs.run_at(voxels.origin + lowest * voxels.size)
    floors = runs.z0[run[run >= 0]]
    floors = floors[floors > rough - 2.0 * voxels.size]
    return float(np.quantile(floors, 0.1)) if len(floors) else rough


def _open_rim(wide: Flags) -> None:
    """The rim of the grid is the way round the part, however near to it."""
    wide[0], wide[-1], wide[:, 0], wide[:, -1] = True, True, True, True
    wide[:, :, -1] = True


def _tree(wide: Flags, voxels: Voxels) -> JoinTree:
    """Join tree of voxels, as runs of columns of them."""
    nx, ny, nz = wide.shape
    columns = wide.transpose(1, 0, 2).reshape(-1, nz).view(np.int8)
    padded = np.zeros((len(columns), nz + 2), dtype=np.int8)
    padded[:, 1:-1] = columns
    steps = np.diff(padded, axis=1)
    column, low = np.nonzero(steps == 1)
    high = np.nonzero(steps == -1)[1]
    offsets = np.zeros(nx * ny + 1, dtype=np.int64)
    np.cumsum(np.bincount(column, minlength=nx * ny), out=offsets[1:])
    bottom = voxels.origin[2] - 0.5 * voxels.size
    z0 = np.where(low == 0, -np.inf, bottom + low * voxels.size)
    z1 = np.where(high == nz, np.inf, bottom + high * voxels.size)
    grid = Grid(
        float(voxels.origin[0]) - 0.5 * voxels.size, float(voxels.origin[1]) - 0.5 * voxels.size, voxels.size, nx, ny
    )
    free = np.full(len(z0), ANY_CLASS, dtype=np.int32)
    return join_tree(Runs(grid, offsets, z0, z1, free, np.zeros(nx * ny, dtype=bool)))


def _branches(wide: Flags, tree: JoinTree, voxels: Voxels) -> tuple[LongArray, IntArray]:
    """Flat numbers of the wide voxels, and the branch that each lies in when its own height is reached."""
    nx, ny, nz = wide.shape
    runs = tree.runs
    bottom = voxels.origin[2] - 0.5 * voxels.size
    low = np.where(np.isinf(runs.z0), 0, np.rint((np.maximum(runs.z0, bottom) - bottom) / voxels.size)).astype(np.int64)
    top = np.where(np.isinf(runs.z1), bottom + nz * voxels.size, runs.z1)
    count = np.rint((top - bottom) / voxels.size).astype(np.int64) - low
    run = np.repeat(np.arange(len(low)), count)
    k = np.arange(len(run)) - np.repeat(np.cumsum(count) - count, count) + low[run]
    j, i = np.divmod(runs.column_of_run[run].astype(np.int64), nx)
    branch = tree.branch_of_run[run].astype(np.int64)
    z = voxels.origin[2] + k * voxels.size
    while True:
        above = (branch > 0) & (z >= tree.merge[branch])
        if not above.any():
            break
        branch[above] = tree.parent[branch[above]]
    return (i * ny + j) * nz + k, branch.astype(np.int32)


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


def _into_walls(owner: IntArray) -> IntArray:
    """The owner of each voxel, those that walls run through counted to the room beside (or the outside)."""
    spread = owner.copy()
    for axis in range(3):
        for sign in (1, -1):
            beside = np.full_like(owner, -1)
            here, there = [slice(None)] * 3, [slice(None)] * 3
            here[axis] = slice(None, -1) if sign > 0 else slice(1, None)
            there[axis] = slice(1, None) if sign > 0 else slice(None, -1)
            beside[tuple(here)] = owner[tuple(there)]
            spread = np.where(owner < 0, np.maximum(spread, beside), spread)
    return spread


def _areas(spread: IntArray, room_mm3: FloatArray, count: int, size: float) -> FloatArray:
    nz = spread.shape[2]
    known = spread >= 0
    layer = np.broadcast_to(np.arange(nz), spread.shape)[known]
    flat = np.bincount(spread[known] * nz + layer, weights=room_mm3[known], minlength=count * nz)
    area: FloatArray = flat.reshape(count, nz) / size
    return area


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
