"""Ways out that are too narrow for the voxels: found among the columns, which are several times as fine.

A flood (watershed from seeds, Vincent & Soille 1991, IEEE Trans. PAMI 13, 583) goes from the chambers and from the
outside through all the free space whose voxels belong to neither. Where two floods meet is a way out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.analysis.clearance import Chambers, Voxels, WayOut, ball_width, free_centres, ways_between
from ventplanner.geometry import clearance_kernels as kernels
from ventplanner.geometry.columns import ANY_CLASS, Grid, LongArray, Runs
from ventplanner.geometry.solid import FloatArray, IntArray

UNKNOWN, WALL = -1, -2

LONGEST_MM = 30.0
"""Narrow ways are looked for this far round a chamber (own judgement: far longer than any vent)."""

NARROW_VOXELS = 3.5
"""Ways that look narrower than this many voxels are better known from the columns."""

LEAST_VOXELS = 6.0
"""Ways out of chambers narrower than this many voxels are left to the voxels: folds, mostly."""

MARGIN_VOXELS = 2.5
"""A narrow way is looked at with as much round it: the seeds at its ends must be seen."""

LEVELS = (400, 200, 100, 64, 36, 25, 16, 9, 4, 2, 1)
"""Squared clearances, in voxels, down to which such a look is flooded one after the other."""

MOST_CLOSE_BY = 250_000
"""Voxels of such a look at most."""

MOST_NARROW = 100
"""Narrow ways of each pair of chambers, those of most columns first: a sieve has thousands."""

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Pieces of the runs, ordered by column, then by height: where a run passes from one chamber's voxels into others.

    column: (n,); low, high: (n,) mm; label: (n,) int32 chamber, 0 for the outside, UNKNOWN between; mouth: (n,) bool,
    in voxels that are a wide way out; void_class; run.
    """

    grid: Grid
    column: LongArray
    low: FloatArray
    high: FloatArray
    label: IntArray
    mouth: Flags
    void_class: IntArray
    run: LongArray


def fine_ways(runs: Runs, open_run: Flags, chambers: Chambers) -> tuple[WayOut, ...]:
    """All ways out of chambers: the wide ones of the voxels, and those that the columns know better or alone.

    runs, open_run: those that the chambers were found in. Nothing narrower than about one and a half pitches is seen.
    """
    if not chambers.count:
        return ()
    seeds = _seeds(chambers)
    pieces = _pieces(runs, open_run, chambers, seeds)
    here, there = _touching(pieces)
    label, source = _flooded(pieces.label, here, there)
    close_by = _CloseBy(runs, open_run, replace(chambers.voxels, chamber=seeds.chamber))
    found = (*seeds.wide, *_ways(close_by, pieces, (label, source), (here, there)))
    return tuple(sorted(found, key=lambda w: (w.chamber, -w.width)))


@dataclass(frozen=True, eq=False)
class _Seeds:
    """Chamber of each voxel from which a flood goes out, UNKNOWN elsewhere; those in a wide way out; the wide ways."""

    chamber: IntArray
    mouth: Flags
    wide: tuple[WayOut, ...]


def _seeds(chambers: Chambers) -> _Seeds:
    """Unknown is what is not free, hollows of the outside that nothing joins to it, and what is near a narrow way."""
    voxels = chambers.voxels
    parts, _ = ndimage.label(voxels.chamber == 0)
    # The grid has an empty ring all round.
    alone = (voxels.chamber == 0) & (parts != parts[0, 0, 0])
    known = np.where(alone, np.int32(UNKNOWN), voxels.chamber).astype(np.int32)
    meets = np.zeros(known.shape, dtype=bool)
    for axis in range(3):
        first, second = (tuple(slice(k, k - 1 or None) if n == axis else slice(None) for n in range(3)) for k in (0, 1))
        here = (known[first] != known[second]) & (known[first] >= 0) & (known[second] >= 0)
        meets[first] |= here
        meets[second] |= here
    beside = np.ones((3, 3, 3))
    patch, count = ndimage.label(meets, structure=beside)
    room = np.asarray(ndimage.maximum(voxels.d2, patch, np.arange(count + 1)), dtype=np.int32)
    is_wide = ball_width(room, 1.0) >= NARROW_VOXELS
    at = np.rint((np.array([w.at for w in chambers.ways_out]).reshape(-1, 3) - voxels.origin) / voxels.size)
    patch_of_way = patch[tuple(at.astype(np.int64).T)]
    small = chambers.inscribed < LEAST_VOXELS * voxels.size
    is_wide[patch_of_way[[bool(small[w.chamber]) for w in chambers.ways_out]]] = True
    is_wide[0], room[0] = False, 0
    # As far as it is no wider than the way itself.
    near = ndimage.grey_dilation(np.where(is_wide[patch], 0, room[patch]), size=(5, 5, 5))
    known[(known >= 0) & (voxels.d2 <= near)] = UNKNOWN
    wide = tuple(w for w, p in zip(chambers.ways_out, patch_of_way, strict=True) if is_wide[p])
    return _Seeds(known, (patch > 0) & is_wide[patch], wide)


def _pieces(runs: Runs, open_run: Flags, chambers: Chambers, seeds: _Seeds) -> _Pieces:
    grid, size, known = runs.grid, chambers.voxels.size, seeds.chamber
    stride = round(size / grid.pitch)
    chosen = np.flatnonzero(open_run & _near_chambers(runs, chambers, stride))
    # Intervals of equal labels in each column of voxels; they tile it.
    nx, ny, nz = known.shape
    flat = np.where(known >= 0, 2 * known + seeds.mouth, UNKNOWN).reshape(nx * ny, nz)
    starts = np.ones(flat.shape, dtype=bool)
    starts[:, 1:] = flat[:, 1:] != flat[:, :-1]
    block, k = np.nonzero(starts)
    tall = (nz + 4.0) * size
    # Voxel k reaches from (k - 1.5) size to (k - 0.5) size.
    key = block * tall + k * size
    j, i = np.divmod(runs.column_of_run[chosen].astype(np.int64), grid.nx)
    of_run = (i // stride + 1) * ny + j // stride + 1
    top = nz * size
    z0 = np.clip(runs.z0[chosen] + 1.5 * size, 0.0, top)
    z1 = np.clip(runs.z1[chosen] + 1.5 * size, 0.0, top)
    first = np.searchsorted(key, of_run * tall + z0, side="right") - 1
    last = np.searchsorted(key, of_run * tall + z1, side="left") - 1
    source, interval = _spread(first, np.maximum(last - first + 1, 0))
    end = np.append(k[1:], nz) * size
    end[np.append(block[1:] != block[:-1], True)] = top
    low, high = np.maximum(z0[source], k[interval] * size), np.minimum(z1[source], end[interval])
    rim = (i == 0) | (j == 0) | (i == grid.nx - 1) | (j == grid.ny - 1)
    code = np.where(rim[source], 0, flat[block[interval], k[interval]])
    # What is unknown is cut into short pieces, so that floods meet halfway.
    count = np.where(code == UNKNOWN, np.maximum(np.ceil((high - low) / size), 1.0), 1.0).astype(np.int64)
    again, share = _spread(np.zeros(len(count), dtype=np.int64), count)
    step = ((high - low) / count)[again]
    low = low[again] + share * step
    run = chosen[source[again]]
    return _Pieces(
        grid,
        runs.column_of_run[run].astype(np.int64),
        low - 1.5 * size,
        low + step - 1.5 * size,
        np.where(code >= 0, code // 2, UNKNOWN)[again].astype(np.int32),
        ((code >= 0) & (code % 2 == 1))[again],
        runs.void_class[run],
        run,
    )


def _near_chambers(runs: Runs, chambers: Chambers, stride: int) -> Flags:
    """Runs in the columns round the chambers, as far as a wall may be thick."""
    grid, reach = runs.grid, int(np.ceil(LONGEST_MM / chambers.voxels.size))
    near = np.zeros(chambers.voxels.chamber.shape[:2], dtype=bool)
    for box in chambers.boxes[1:]:
        (i0, j0), (i1, j1) = np.maximum(box[0, :2] - reach, 0), box[1, :2] + reach + 1
        near[i0:i1, j0:j1] = True
    j, i = np.divmod(runs.column_of_run.astype(np.int64), grid.nx)
    found: Flags = near[i // stride + 1, j // stride + 1]
    return found


def _spread(first: LongArray, count: LongArray) -> tuple[LongArray, LongArray]:
    """For each item its number, `count` times over, and first, first + 1, …"""
    item = np.repeat(np.arange(len(count)), count)
    return item, first[item] + np.arange(len(item)) - (np.cumsum(count) - count)[item]


def _touching(pieces: _Pieces) -> tuple[LongArray, LongArray]:
    """Pairs of pieces that touch, the first of them unknown: in columns side by side, and one above the other."""
    grid, n = pieces.grid, len(pieces.column)
    unknown = np.flatnonzero(pieces.label == UNKNOWN)
    tall = float(pieces.high.max(initial=0.0) - pieces.low.min(initial=0.0)) + 1.0
    base = float(pieces.low.min(initial=0.0))
    lows, highs = (pieces.column * tall + (z - base) for z in (pieces.low, pieces.high))
    here, there = [], []
    for step in (-1, 1, -grid.nx, grid.nx):
        column = pieces.column[unknown] + step
        first = np.searchsorted(highs, column * tall + (pieces.low[unknown] - base), side="right")
        last = np.searchsorted(lows, column * tall + (pieces.high[unknown] - base), side="left")
        source, other = _spread(first, np.maximum(last - first, 0))
        own = unknown[source]
        a, b = pieces.void_class[own], pieces.void_class[other]
        joins = (a == b) | (a == ANY_CLASS) | (b == ANY_CLASS)
        here.append(own[joins])
        there.append(other[joins])
    for step in (-1, 1):
        other = unknown + step
        inside = (other >= 0) & (other < n)
        own, other = unknown[inside], other[inside]
        joins = pieces.run[own] == pieces.run[other]
        here.append(own[joins])
        there.append(other[joins])
    return np.concatenate(here), np.concatenate(there)


def _flooded(label: IntArray, here: LongArray, there: LongArray) -> tuple[IntArray, LongArray]:
    """Label of each piece, and the piece that its flood came from, itself for a seed."""
    label, source = label.copy(), np.arange(len(label))
    while True:
        reached = label[there] >= 0
        if not reached.any():
            return label, source
        given, by = here[reached], there[reached]
        source[given] = by  # of several the last one, always the same
        label[given] = label[source[given]]
        left = label[here] < 0
        here, there = here[left], there[left]


def _ways(
    close_by: _CloseBy, pieces: _Pieces, flood: tuple[IntArray, LongArray], touching: tuple[LongArray, LongArray]
) -> list[WayOut]:
    """Each connected patch where the floods of two chambers meet, seen from either; not the rims of known ways."""
    (label, source), (here, there) = flood, touching
    apart = (label[here] != label[there]) & (label[here] >= 0) & (label[there] >= 0)
    edge = np.zeros(len(label), dtype=bool)
    edge[here[apart]] = True
    among = edge[here] & edge[there]
    graph = coo_array((np.ones(int(among.sum()), dtype=np.int8), (here[among], there[among])), shape=(len(label),) * 2)
    _, part = connected_components(graph, directed=False)
    rim = np.zeros(len(label), dtype=bool)
    rim[part[here[edge[here] & pieces.mouth[there]]]] = True
    own, other = here[apart], there[apart]
    own, other = own[~rim[part[own]]], other[~rim[part[own]]]
    low, high = np.minimum(label[own], label[other]), np.maximum(label[own], label[other])
    keys = np.stack((part[own], low, high), axis=1)
    patches, of_edge = np.unique(keys, axis=0, return_inverse=True)
    order = np.argsort(of_edge, kind="stable")
    bounds = np.searchsorted(of_edge[order], np.arange(len(patches) + 1))
    found = []
    for n, (_, a, b) in enumerate(patches.tolist()):
        mine = order[bounds[n] : bounds[n + 1]]
        found.append((len(np.unique(own[mine])), a, b, mine))
    found.sort(key=lambda f: (-f[0], int(f[3][0])))
    ways: list[WayOut] = []
    taken: dict[tuple[int, int], int] = {}
    for _, a, b, mine in found:
        taken[a, b] = taken.get((a, b), 0) + 1
        if taken[a, b] <= MOST_NARROW:
            way = _way(close_by, pieces, source, own[mine], other[mine], (b, a))
            if way is None:
                continue
            ways.append(way)
            if a > 0:
                ways.append(replace(way, chamber=a, beyond=b, outwards=-way.outwards))
    return ways


@dataclass(frozen=True, eq=False)
class _CloseBy:
    """What is needed to look at a place with voxels as fine as the columns."""

    runs: Runs
    open_run: Flags
    seeds: Voxels

    def look(self, low: FloatArray, high: FloatArray) -> Voxels:
        """Chambers in a box (build points), flooded from the seeds by falling clearance: they meet where the way
        between them is narrowest. Coarser than the columns if the box is large."""
        grid = self.runs.grid
        stride = int(np.ceil((float(np.prod((high - low) / grid.pitch)) / MOST_CLOSE_BY) ** (1 / 3)))
        size = stride * grid.pitch
        first = np.floor((low[:2] - np.array([grid.x0, grid.y0])) / grid.pitch).astype(np.int64)
        count = np.ceil((high - low) / size).astype(np.int64) + 1
        i, j = (first[n] + stride * np.arange(count[n]) for n in range(2))
        # Round the grid is nothing.
        on_it = ((i >= 0) & (i < grid.nx))[:, None] & ((j >= 0) & (j < grid.ny))
        columns = np.where(on_it, j * grid.nx + i[:, None], -1)
        free = free_centres(self.runs, self.open_run, columns.ravel(), int(count[2]), size, float(low[2]) + size)
        free = free.reshape(tuple(count))
        free[~on_it] = 1
        d2 = np.empty(free.shape, dtype=np.int32)
        kernels.squared_distance(free, d2)
        corner = np.array([grid.x0, grid.y0]) + (first + 0.5) * grid.pitch
        origin = np.array([*corner, float(low[2])])
        points = origin + np.stack(np.unravel_index(np.arange(free.size), free.shape), axis=1) * size
        label = self.seeds.chamber_at(points).astype(np.int32).reshape(free.shape)
        label[free == 0] = WALL
        order = np.flatnonzero(free)
        order = order[np.argsort(-d2.ravel()[order], kind="stable")]
        # What is wide first, so that it does not fill through what is narrow.
        for least in LEVELS:
            wide = order[: int(np.searchsorted(-d2.ravel()[order], -least, side="right"))]
            while kernels.flood(wide, d2, label):
                pass
        return Voxels(origin, size, label, d2)


def _way(
    close_by: _CloseBy, pieces: _Pieces, source: LongArray, own: LongArray, other: LongArray, ends: tuple[int, int]
) -> WayOut | None:
    """The way out of one chamber into another through a patch of pairs of pieces of two floods."""
    points = 0.5 * (_middle(pieces, own) + _middle(pieces, other))
    middle = points[int(np.argmin(np.linalg.norm(points - points.mean(axis=0), axis=1)))]
    nearest = int(np.argmin(np.linalg.norm(points - middle, axis=1)))
    path = np.concatenate([_back(pieces, source, int(k)) for k in (own[nearest], other[nearest])])
    margin = MARGIN_VOXELS * close_by.seeds.size
    low, high = np.minimum(points.min(axis=0), path.min(axis=0)), np.maximum(points.max(axis=0), path.max(axis=0))
    found = ways_between(*ends, close_by.look(low - margin, high + margin))
    return min(found, key=lambda w: float(np.linalg.norm(points - w.at, axis=1).min()), default=None)


def _back(pieces: _Pieces, source: LongArray, piece: int) -> FloatArray:
    """(k, 3) middles of the pieces that a flood came through, the last first, without its seed."""
    found = [piece]
    while source[piece] != piece:
        found.append(piece)
        piece = int(source[piece])
    return _middle(pieces, np.array(found))


def _middle(pieces: _Pieces, number: LongArray) -> FloatArray:
    x, y = pieces.grid.centres(pieces.column[number])
    return np.stack((x, y, 0.5 * (pieces.low[number] + pieces.high[number])), axis=-1)
