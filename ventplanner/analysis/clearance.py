"""Clearance: chambers of the open free space, their ways out, and which voxel belongs to which.

Works on voxels a few columns wide: chambers and openings are wide things. What is sealed is known from the column
runs and takes no part; the widths of openings are refined against the triangles elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ventplanner.geometry import clearance_kernels as kernels
from ventplanner.geometry.columns import LongArray, Runs
from ventplanner.geometry.solid import FloatArray, IntArray

MOST_VOXELS = 1_200_000
"""Voxels of the clearance grid at most: 0.05 s for the distance and 0.2 s for the tree, 25 MB."""

COARSEST_MM = 0.8
"""Larger voxels would hide usual vents of 2 mm (own judgement): then up to MOST_VOXELS_OF_LARGE voxels are taken."""

MOST_VOXELS_OF_LARGE = 3_000_000

WALL_PER_VOXEL = 1.25
"""A wall this many voxels thick keeps its sides apart when only the voxels' centres are looked at; the margin of the
columns, see `ventplanner.analysis.resolution`."""

WIDER_THAN_WAY_OUT = 1.5
"""A chamber is a cavity when its inscribed width is at least this many times its widest way out (own judgement: folds
and arches are none, bottles are)."""


@dataclass(frozen=True, eq=False)
class Voxels:
    """Cubes of `size` mm: centre of (i, j, k) at origin + (i, j, k) * size, build axes. chamber: (nx, ny, nz) int32,
    number of the chamber, 0 for the open outside, -1 for what is not free. d2: squared clearance in voxels."""

    origin: FloatArray
    size: float
    chamber: IntArray
    d2: IntArray

    def chamber_at(self, points: FloatArray) -> LongArray:
        """(k, 3) build points to chamber numbers; -1 in material, 0 off the grid."""
        index = np.rint((points - self.origin) / self.size).astype(np.int64)
        shape = np.array(self.chamber.shape)
        inside = ((index >= 0) & (index < shape)).all(axis=1)
        index = np.clip(index, 0, shape - 1)
        found = self.chamber[index[:, 0], index[:, 1], index[:, 2]]
        return np.where(inside, found, 0).astype(np.int64)


@dataclass(frozen=True, eq=False)
class WayOut:
    """Where a chamber meets the outside (beyond 0) or another chamber.

    at: (3,) build point at its widest place. width: mm, rough. outwards: (3,) unit vector out of the chamber. seen:
    mm, size of the voxels that it was seen with if those were finer than the chambers', else 0.
    """

    chamber: int
    beyond: int
    at: FloatArray
    width: float
    outwards: FloatArray
    seen: float = 0.0


@dataclass(frozen=True, eq=False)
class Chambers:
    """Chambers 1..n clearly wider than their widest way out; index 0 of each array is the outside.

    volume: mm3. inscribed, way_out: widths in mm. widest_at: (n + 1, 3) build points.
    """

    voxels: Voxels
    volume: FloatArray
    inscribed: FloatArray
    way_out: FloatArray
    widest_at: FloatArray
    ways_out: tuple[WayOut, ...]

    @property
    def count(self) -> int:
        """Number of chambers."""
        return len(self.volume) - 1

    @cached_property
    def boxes(self) -> LongArray:
        """(n + 1, 2, 3) int64: lowest and highest voxel of each chamber."""
        boxes = np.zeros((self.count + 1, 2, 3), dtype=np.int64)
        for number, box in enumerate(ndimage.find_objects(np.maximum(self.voxels.chamber, 0)), start=1):
            boxes[number] = [s.start for s in box], [s.stop - 1 for s in box]
        return boxes

    def only(self, keep: NDArray[np.bool_]) -> Chambers:
        """The chambers kept ((n + 1,) bool), numbered anew; the space of the others is open outside."""
        keep = keep.copy()
        keep[0] = True
        number = np.where(keep, np.cumsum(keep) - 1, 0).astype(np.int32)
        chamber = np.where(self.voxels.chamber > 0, number[np.maximum(self.voxels.chamber, 0)], self.voxels.chamber)
        ways = tuple(
            replace(w, chamber=int(number[w.chamber]), beyond=int(number[w.beyond]))
            for w in self.ways_out
            if keep[w.chamber]
        )
        return Chambers(
            replace(self.voxels, chamber=chamber),
            self.volume[keep],
            self.inscribed[keep],
            self.way_out[keep],
            self.widest_at[keep],
            ways,
        )


def find_chambers(
    runs: Runs, open_run: NDArray[np.bool_], height: float, wall: float | None, least_mm3: float
) -> Chambers:
    """Chambers of the free space that is open to the outside in the end.

    runs: void runs without a plate. open_run: (n,) bool, the runs that belong to it. height: mm. wall: thickness in
    mm of the thinnest wall, if known: voxels are finer, or else stricter, so that it does not leak. least_mm3:
    smaller chambers are none.
    """
    voxels, room_mm3 = voxelise(runs, open_run, height, wall)
    shape = voxels.chamber.shape
    label = np.empty(shape, dtype=np.int32)
    order = kernels.fall(voxels.d2, label)
    room = len(order) // 2 + 16  # no two neighbours can both begin a branch
    peak, parent, toward, saddle = (np.empty(room, dtype=np.int32) for _ in range(4))
    peak_at = np.empty(room, dtype=np.int64)
    count = kernels.chamber_tree(order, voxels.d2, label, peak, parent, toward, saddle, peak_at)
    peak, parent, toward, saddle = peak[:count], parent[:count], toward[:count], saddle[:count]
    number = _number_chambers(peak, parent, toward, saddle)
    chamber = np.where(label >= 0, number[np.maximum(label, 0)], -1).astype(np.int32)
    volume = _volumes(chamber, room_mm3, int(number.max()))
    number, chamber, volume = _drop_small(number, chamber, volume, least_mm3)
    # The widest branch of each chamber, the earliest of equals: the first of its number.
    widest = np.lexsort((-peak, number))
    heads = widest[np.searchsorted(number[widest], np.arange(len(volume)))]
    measured = Voxels(voxels.origin, voxels.size, chamber, voxels.d2)
    index = np.stack(np.unravel_index(np.maximum(peak_at[heads], 0), shape), axis=1)
    inscribed = ball_width(peak[heads], voxels.size)
    inscribed[0] = np.inf
    way_out = ball_width(np.maximum(saddle[heads], 0), voxels.size)
    return Chambers(measured, volume, inscribed, way_out, voxels.origin + index * voxels.size, _ways_out(measured))


def ball_width(d2: IntArray, size: float) -> FloatArray:
    """Width in mm from a squared distance between voxel centres: the wall lies half a voxel before the centre."""
    return np.asarray(np.maximum(2.0 * np.sqrt(d2.astype(np.float64)) - 1.0, 0.0) * size)


def _stride(runs: Runs, height: float, wall: float | None) -> tuple[int, bool]:
    """Columns per voxel, and whether a voxel of that size could hide the thinnest wall."""
    pitch = runs.grid.pitch
    box = runs.grid.n_columns * pitch**2 * (height + pitch)
    thin = wall / WALL_PER_VOXEL if wall else np.inf
    size = max(pitch, min(0.5, thin), (box / MOST_VOXELS) ** (1 / 3))
    if size > COARSEST_MM:
        size = max(COARSEST_MM, (box / MOST_VOXELS_OF_LARGE) ** (1 / 3))
    stride = max(1, round(size / pitch))
    if stride > 1 and size <= thin < stride * pitch:
        stride -= 1  # rounding up must not lose the wall
    return stride, stride * pitch > thin * (1.0 + 1e-9)


def voxelise(
    runs: Runs, open_run: NDArray[np.bool_], height: float, wall: float | None, above: float = 0.0
) -> tuple[Voxels, FloatArray]:
    """Voxels over blocks of columns, and the free volume of each in mm3, which counts all of its columns.

    above: mm of room to look at above the part. The field for the chambers holds the squared distance as well.
    A voxel is free when its centre is; where a wall could hide between two centres, only when all of it is.
    """
    grid = runs.grid
    stride, strict = _stride(runs, height, wall)
    size = stride * grid.pitch
    # An empty ring on every side, as the way round the part. The last block may be cut short: the rim is empty too.
    i = np.minimum(np.arange(0, grid.nx, stride) + stride // 2, grid.nx - 1)
    j = np.minimum(np.arange(0, grid.ny, stride) + stride // 2, grid.ny - 1)
    columns = np.full((len(i) + 2, len(j) + 2), -1, dtype=np.int64)
    columns[1:-1, 1:-1] = j[None, :] * grid.nx + i[:, None]
    shape = (*columns.shape, int(np.ceil((height + above) / size)) + 3)
    middle = stride // 2 + 0.5
    origin = np.array([grid.x0 + middle * grid.pitch - size, grid.y0 + middle * grid.pitch - size, -size])
    free = free_centres(runs, open_run, columns.ravel(), shape[2], size).reshape(shape)
    room = np.empty(shape)
    kernels.free_lengths(runs.column_of_run, runs.z0, runs.z1, open_run.view(np.uint8), grid.nx, stride, size, room)
    if strict:
        seen = np.bincount(np.arange(grid.nx) // stride)[:, None] * np.bincount(np.arange(grid.ny) // stride)
        full = np.zeros(shape[:2])
        full[1:-1, 1:-1] = seen
        free[room < (1.0 - 1e-6) * full[:, :, None]] = 0
    free[columns < 0] = 1
    d2 = np.empty(shape, dtype=np.int32)
    kernels.squared_distance(free, d2)
    return Voxels(origin, size, d2, d2), room * (grid.pitch**2 * size)


def free_centres(
    runs: Runs, open_run: NDArray[np.bool_], columns: LongArray, nz: int, size: float, base: float = 0.0
) -> NDArray[np.uint8]:
    """(len(columns), nz) uint8: whether voxels are free at their centres, voxel k at base + (k - 1) size; 0 for columns
    of a negative number."""
    known = np.flatnonzero(columns >= 0)
    first, count = runs.offsets[columns[known]], np.diff(runs.offsets)[columns[known]]
    place = np.repeat(known, count)
    run = np.repeat(first - np.cumsum(count) + count, count) + np.arange(count.sum())
    place, run = place[open_run[run]], run[open_run[run]]
    # Voxel k has its centre at (k - 1) size; a run fills the voxels whose centres it holds.
    low = np.clip(runs.z0[run] - base, -size, (nz - 1) * size)
    high = np.clip(runs.z1[run] - base, -size, (nz - 1) * size)
    a, b = (np.minimum(np.ceil(z / size).astype(np.int64) + 1, nz) for z in (low, high))
    b[runs.z1[run] == np.inf] = nz
    width, n = nz + 1, len(columns) * (nz + 1)
    steps = np.bincount(place * width + a, minlength=n) - np.bincount(place * width + b, minlength=n)
    return (np.cumsum(steps.reshape(-1, width)[:, :nz], axis=1) > 0).astype(np.uint8)


def _number_chambers(peak: IntArray, parent: IntArray, toward: IntArray, saddle: IntArray) -> IntArray:
    """Chamber number of each branch, 0 for the outside.

    A head is a branch that ends at the outside (or nowhere) and is clearly wider than there; every other branch
    belongs where the branch belongs whose voxels it met.
    """
    n = len(peak)
    branches = np.arange(n)
    inscribed, way_out = ball_width(peak, 1.0), ball_width(np.maximum(saddle, 0), 1.0)
    # Below three voxels a width says nothing.
    head = (parent <= 0) & (inscribed >= np.maximum(WIDER_THAN_WAY_OUT * way_out, 3.0))
    head[0] = True
    at = np.where(head, branches, np.maximum(toward, 0))
    while not np.array_equal(at[at], at):
        at = at[at]
    number = np.zeros(n, dtype=np.int32)
    number[head] = np.arange(int(head.sum()))
    return number[at]


def _volumes(chamber: IntArray, room_mm3: FloatArray, count: int) -> FloatArray:
    """(count + 1,) mm3: the free volume of each chamber's voxels, and of those its walls run through."""
    volume = np.zeros(count + 1)
    for number, box in enumerate(ndimage.find_objects(np.maximum(chamber, 0)), start=1):
        grown = tuple(slice(max(s.start - 1, 0), s.stop + 1) for s in box)
        own = chamber[grown] == number
        cut = ndimage.binary_dilation(own) & (chamber[grown] < 0)
        volume[number] = room_mm3[grown][own | cut].sum()
    return volume


def _drop_small(
    number: IntArray, chamber: IntArray, volume: FloatArray, least: float
) -> tuple[IntArray, IntArray, FloatArray]:
    keep = volume >= least
    keep[0] = True
    renumber = np.where(keep, np.cumsum(keep) - 1, 0).astype(np.int32)
    return renumber[number], np.where(chamber > 0, renumber[np.maximum(chamber, 0)], chamber), volume[keep]


def _ways_out(voxels: Voxels) -> tuple[WayOut, ...]:
    """Interfaces between a chamber and what lies beyond, each connected patch one way out, widest first."""
    found: list[WayOut] = []
    chamber = voxels.chamber
    boxes = ndimage.find_objects(np.maximum(chamber, 0))
    for number, box in enumerate(boxes, start=1):
        grown = tuple(slice(max(s.start - 1, 0), s.stop + 1) for s in box)
        corner = np.array([s.start for s in grown])
        found += _ways_out_of(number, chamber[grown], voxels.d2[grown], corner, voxels)
    return tuple(sorted(found, key=lambda w: (w.chamber, -w.width)))


def _ways_out_of(number: int, chamber: IntArray, d2: IntArray, corner: LongArray, voxels: Voxels) -> list[WayOut]:
    own = chamber == number
    edge = np.zeros(chamber.shape, dtype=bool)
    direction = np.zeros((*chamber.shape, 3))
    beyond = np.zeros(chamber.shape, dtype=np.int32)
    for axis in range(3):
        for sign in (1, -1):
            other = np.full(chamber.shape, -1, dtype=np.int32)
            here, there = _shifted(axis, sign)
            other[here] = chamber[there]
            touches = own & (other >= 0) & (other != number)
            edge |= touches
            direction[..., axis] += sign * touches
            beyond[touches] = other[touches]
    patches, count = ndimage.label(edge, structure=np.ones((3, 3, 3)))
    ways = []
    for patch in range(1, count + 1):
        index = np.argwhere(patches == patch)
        clearance = d2[tuple(index.T)]
        best = index[int(np.argmax(clearance))]
        outwards = direction[tuple(index.T)].sum(axis=0)
        norm = float(np.linalg.norm(outwards))
        ways.append(
            WayOut(
                number,
                int(beyond[tuple(best)]),
                voxels.origin + (best + corner) * voxels.size,
                float(ball_width(np.array([clearance.max()]), voxels.size)[0]),
                outwards / norm if norm > 0 else np.array([0.0, 0.0, 1.0]),
            )
        )
    return ways


def ways_between(chamber: int, beyond: int, voxels: Voxels) -> list[WayOut]:
    """The ways from one chamber into another in voxels that are a part of all."""
    found = _ways_out_of(chamber, voxels.chamber, voxels.d2, np.zeros(3, dtype=np.int64), voxels)
    return [replace(w, seen=voxels.size) for w in found if w.beyond == beyond]


def _shifted(axis: int, sign: int) -> tuple[tuple[slice, ...], tuple[slice, ...]]:
    """Slices that line each element up with its neighbour in direction sign along axis."""
    here = [slice(None)] * 3
    there = [slice(None)] * 3
    here[axis] = slice(None, -1) if sign > 0 else slice(1, None)
    there[axis] = slice(1, None) if sign > 0 else slice(None, -1)
    return tuple(here), tuple(there)
