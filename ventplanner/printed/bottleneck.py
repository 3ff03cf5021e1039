"""The narrowest place on the way through a box of cells, to a part of a pixel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.geometry.nearest_kernels import clearances, wall_points, widest_way
from ventplanner.geometry.solid import FloatArray
from ventplanner.printed.part import BoolArray, Box
from ventplanner.printed.solidity import EDGE, Solidity

LongArray = NDArray[np.int64]

MANY = 150_000
"""Boxes of more cells are first looked at in blocks of cells."""

BLOCK, GROUP = 3, 4
"""Cells along each side of a block of the wall's points, and blocks along each side of a group of blocks."""

FIRST, LAST, VOID, SOLID = 1, 2, 4, 8
"""What occurs in a block of cells: the first end of the way, its last, a cell that may be used, a solid one."""

_HALVES = np.stack(np.meshgrid(*3 * [np.arange(2)], indexing="ij"), axis=-1).reshape(-1, 3)
_SIDES = np.stack(np.meshgrid(*3 * [np.arange(3)], indexing="ij"), axis=-1).reshape(-1, 3)


@dataclass(frozen=True, eq=False)
class Way:
    """A way through: the box of cells to measure in, the cells that may be used, those at its two ends, and those
    whose material bounds it (all if None)."""

    box: Box
    domain: BoolArray
    ends: tuple[BoolArray, BoolArray]
    bounds: BoolArray | None = None


@dataclass(frozen=True, eq=False)
class _Places:
    """Places where the middle of a ball may be. at: (k, 3) in a grid, z, y, x. clear: (k,) mm from the wall; known:
    (k,) whether that is exact: elsewhere it is wider, and wider than the way. ends: (k,) 1: at the first end of the
    way, 2: at the last, 3: both."""

    at: LongArray
    clear: FloatArray
    known: BoolArray
    ends: NDArray[np.uint8]

    def widest(self) -> float:
        """The largest clearance that joins the two ends all along some way; 0 if none does."""
        nothing = np.zeros((1, 1, 1), dtype=np.float32), np.zeros(3)
        none = np.zeros((3, 0)), np.zeros(1, dtype=np.int64), np.zeros((6, 0)), np.zeros(1, dtype=np.int64)
        all_known = replace(self, known=np.ones(len(self.at), dtype=bool))
        return all_known.widest_looked_up(np.inf, *nothing, *none, np.zeros((6, 0)))

    def widest_looked_up(self, plenty: float, *wall: NDArray[Any]) -> float:
        """The same among nodes of a wall: what is not known is looked up where it matters, up to so much."""
        if not len(self.at):
            return 0.0
        keys, order, strides = self._keys()
        known, at = self.known[order].astype(np.uint8), np.ascontiguousarray(self.at[order])
        near = np.zeros(len(keys), dtype=np.int64)
        room = np.empty(len(keys), dtype=np.int64), np.zeros(len(keys), dtype=np.uint8), near
        return float(widest_way(keys, strides, self.clear[order], known, self.ends[order], plenty, *room, at, *wall))

    @classmethod
    def where(cls, chosen: BoolArray, clear: FloatArray, known: BoolArray, ends: NDArray[np.uint8]) -> _Places:
        """Some of all places of a grid: the arrays are of its shape."""
        return cls(np.argwhere(chosen), clear[chosen], known[chosen], ends[chosen])

    def join(self) -> bool:
        """Whether they join the two ends, however wide."""
        return _Places(self.at, np.ones(len(self.at)), self.known, self.ends).widest() > 0.0

    def thinned(self) -> _Places:
        """Of what is much wider than the way and hangs together with an end, one layer is left, as part of the end."""
        count = len(self.at)
        if self.known.all():
            return self
        keys, order, strides = self._keys()
        pairs = []
        for stride in strides:
            there = np.minimum(np.searchsorted(keys, keys + stride), count - 1)
            met = keys[there] == keys + stride
            pairs.append(np.column_stack((order[met], order[there[met]])))
        edges = np.vstack(pairs)
        wide = ~self.known
        both = wide[edges].all(axis=1)
        graph = coo_array((both[both], tuple(edges[both].T)), shape=(count, count))
        names = connected_components(graph, directed=False)[1]
        ends, beside = self.ends.copy(), self.known.copy()
        for bit in (1, 2):
            met = np.zeros(count, dtype=bool)
            met[names[wide & ((ends & bit) > 0)]] = True
            ends[wide & met[names]] |= bit
        for one, other in (edges.T, edges.T[::-1]):
            beside[one[self.known[other]]] = True
        return _Places(self.at, self.clear, self.known, ends)[beside | (ends == 0)]

    def _keys(self) -> tuple[LongArray, LongArray, LongArray]:
        """Rising numbers of places, which place each is of, and what a step along each axis adds."""
        shape = self.at.max(axis=0) + 2  # a step off the grid is a place that there is not
        keys = np.ravel_multi_index(tuple(self.at.T), tuple(shape))
        order = np.argsort(keys)
        return keys[order], order, np.array([shape[1] * shape[2], shape[2], 1])

    def __getitem__(self, chosen: BoolArray) -> _Places:
        return _Places(self.at[chosen], self.clear[chosen], self.known[chosen], self.ends[chosen])


def width_of(way: Way, solidity: Solidity, pixel: float, layer: float) -> float:
    """Diameter in mm of the largest ball that gets through void cells from one end of a way to the other; 0: none.

    Layers are prisms: up and down a wall is where a cell ends. Sideways it is where the solidity, linear between the
    middles of pixels, is 0. Both the ball's middle and the wall are looked at on a lattice of half the cells' pitch,
    the wall's points lie on the lines between its nodes: flat walls are exact, and the middle of a round hole is missed
    by at most a third of a pixel. More solidity never gives a wider way. Clearances of blocks of cells and of whole
    cells tell first which nodes of the lattice can matter: no clearance changes faster than the place.
    """
    unit = np.array([layer, pixel, pixel])
    if way.bounds is not None:
        solidity = np.where(way.bounds, solidity, np.minimum(solidity, -EDGE))
    if not (solidity >= 0.0).any():
        return float((np.array(solidity.shape) * unit).min())
    if not (solidity < 0.0).any():
        return 0.0
    wall = _Wall.of(solidity, 0.5 * unit)
    first, last = way.ends
    marks = first * FIRST + last * LAST + (solidity < 0.0) * VOID
    pyramid = [(np.where(way.domain, marks, 0) + (solidity >= 0.0) * SOLID).astype(np.uint8)]
    while pyramid[-1].size > MANY:
        pyramid.append(_by_blocks(pyramid[-1], 2))
    every = 2 ** (len(pyramid) - 1)
    cells = _roughly(pyramid[-1], unit, every)
    half = 0.5 * float(np.linalg.norm(unit))  # from the middle of a cell to its farthest node
    while every > 1:
        between = (0.5 * every + 0.75) * float(unit.max())
        cells = wall.measured(cells, 2 * every * cells.at + every)
        cells = _that_matter(cells, every * half + between, (2 * every - 1) * half)
        every //= 2
        pyramid.pop()
        cells = _parts(cells, pyramid[-1])
    if not cells.join():
        return 0.0
    cells = wall.measured(cells, 2 * cells.at + 1)
    cells = _that_matter(cells, half, 2.0 * half)
    return max(2.0 * _among_nodes(cells[cells.clear > 0.0], wall, unit), 0.1 * pixel)


def _by_blocks(cells: NDArray[np.uint8], every: int) -> NDArray[np.uint8]:
    """What occurs in blocks of so many cells each way: bits, or of each other."""
    for axis in range(3):
        more = -cells.shape[axis] % every
        whole = np.pad(cells, [(0, more if a == axis else 0) for a in range(3)])
        picked = ([slice(None)] * axis + [slice(k, None, every)] for k in range(every))
        cells = np.bitwise_or.reduce([whole[tuple(p)] for p in picked])
    return cells


def _roughly(marks: NDArray[np.uint8], unit: FloatArray, every: int) -> _Places:
    """Blocks of so many cells each way that may matter, with more than their clearances. marks: what is in them."""
    void, ends = (marks & VOID) > 0, (marks & (FIRST | LAST)).astype(np.uint8)
    clear = np.asarray(distance_transform_edt((marks & SOLID) == 0, sampling=every * unit))
    clear = np.maximum(clear, 1e-9)  # a block with wall in it may be a way, too
    half, largest = 0.5 * float(np.linalg.norm(unit)), float(unit.max())
    # What cells of two blocks are farther or less far from each other than the blocks; and the wall from solid cells.
    off, edge = 2.0 * (every - 1) * half, half + 0.5 * largest
    rough = _Places.where(void, clear, void, ends).widest()
    near = void & (clear >= rough - 2.0 * off - edge) & (rough > 0.0)
    wide = near & (clear > rough + 2.0 * off + edge + half)
    return _Places.where(near, clear + 2.0 * off + edge + half, ~wide, ends).thinned()


def _mixed(solid: BoolArray) -> BoolArray:
    """Cells that have both solid and void in and beside them."""
    some, all_of = np.pad(solid, 1, mode="edge"), np.pad(solid, 1, mode="edge")
    for axis in range(3):
        n = some.shape[axis] - 2
        some, all_of = (
            join.reduce([np.take(of, range(k, n + k), axis=axis) for k in range(3)])
            for join, of in ((np.logical_or, some), (np.logical_and, all_of))
        )
    return np.asarray(some & ~all_of)


def _that_matter(places: _Places, less: float, more: float) -> _Places:
    """Those that are not too narrow; those wider by more need not be known from here on."""
    widest = places.widest()
    chosen = places[places.clear >= widest - less]
    return _Places(chosen.at, chosen.clear, chosen.known & (chosen.clear <= widest + more), chosen.ends).thinned()


def _parts(blocks: _Places, marks: NDArray[np.uint8]) -> _Places:
    """Blocks of half the size in others. marks: what is in those of half the size."""
    at = (2 * blocks.at[:, None] + _HALVES).reshape(-1, 3)
    of = np.repeat(np.arange(len(blocks.at)), len(_HALVES))
    there: BoolArray = np.asarray((at < marks.shape).all(axis=1))
    there[there] = (marks[tuple(at[there].T)] & VOID) > 0
    at, of = at[there], of[there]
    ends = marks[tuple(at.T)] & (FIRST | LAST) | np.where(blocks.known, 0, blocks.ends)[of]
    return _Places(at, blocks.clear[of], blocks.known[of], ends.astype(np.uint8))


def _among_nodes(cells: _Places, wall: _Wall, unit: FloatArray) -> float:
    """The largest clearance that joins the two ends by way of nodes in and on cells."""
    at = (2 * cells.at[:, None] + _SIDES).reshape(-1, 3)
    if not len(at):
        return 0.0
    at -= (start := at.min(axis=0) // 2 * 2)
    shape = tuple(at.max(axis=0) + 1)
    flat = np.ravel_multi_index(tuple(at.T), shape)
    there = np.zeros(int(np.prod(shape)), dtype=bool)
    there[flat] = True
    keys = np.flatnonzero(there)
    place = np.searchsorted(keys, flat)
    at += start
    off = np.linalg.norm(0.5 * (_SIDES - 1) * unit, axis=1)
    most, least = np.full(len(keys), np.inf), np.zeros(len(keys))
    np.minimum.at(most, place, np.where(cells.known[:, None], cells.clear[:, None] + off, np.inf).ravel())
    np.maximum.at(least, place, np.where(cells.known[:, None], cells.clear[:, None] - off, 0.0).ravel())
    ends = np.zeros(len(keys), dtype=np.uint8)
    np.bitwise_or.at(ends, place, np.repeat(cells.ends, len(_SIDES)))
    where = np.empty((len(keys), 3), dtype=np.int64)
    where[place] = at
    # No way is wider than the widest one were if all nodes were as wide as may be: more need not be known of any.
    plenty = _Places(where, most, np.ones(len(keys), dtype=bool), ends).widest()
    sure = np.isinf(most) | (least >= plenty)
    return _Places(where, np.where(sure, np.maximum(least, plenty), most), sure, ends).widest_looked_up(
        plenty, wall.solidity, wall.step, wall.points, *wall.blocks
    )


@dataclass(frozen=True, eq=False)
class _Wall:
    """The wall between solid and void nodes of a lattice, as points: (3, n), as `clearances` takes them. step:
    (3,) mm between nodes."""

    solidity: Solidity
    step: FloatArray
    points: FloatArray
    starts: LongArray
    boxes: FloatArray
    groups: LongArray
    hulls: FloatArray

    @classmethod
    def of(cls, solidity: Solidity, step: FloatArray) -> _Wall:
        solidity = np.ascontiguousarray(solidity, dtype=np.float32)
        cells = np.argwhere(_mixed(solidity >= 0.0))
        blocks = np.column_stack((cells // (BLOCK * GROUP), cells // BLOCK))
        order = np.argsort(np.ravel_multi_index(tuple(blocks.T), tuple(blocks.max(axis=0, initial=0) + 1)))
        cells, blocks = np.ascontiguousarray(cells[order]), blocks[order]
        firsts = np.zeros(len(cells) + 1, dtype=np.int64)
        wall_points(solidity, step, cells, np.empty((3, 0)), firsts)
        points = np.empty((3, firsts[-1]))
        wall_points(solidity, step, cells, points, firsts)
        begins = np.flatnonzero(np.append(True, (blocks[1:] != blocks[:-1]).any(axis=1)))
        starts, of = np.append(firsts[begins], firsts[-1]), blocks[begins, :3]
        some = np.diff(starts) > 0
        starts, of = np.append(starts[:-1][some], starts[-1]), of[some]
        groups = np.flatnonzero(np.append(True, (of[1:] != of[:-1]).any(axis=1)))
        low, high = (part.reduceat(points, starts[:-1], axis=1) for part in (np.minimum, np.maximum))
        hulls = np.vstack((np.minimum.reduceat(low, groups, axis=1), np.maximum.reduceat(high, groups, axis=1)))
        groups = np.append(groups, len(of))
        return cls(solidity, step, points, starts, np.vstack((low, high)), groups, hulls)

    @property
    def blocks(self) -> tuple[LongArray, FloatArray, LongArray, FloatArray]:
        """Where the blocks of points begin, and their boxes; and the same of groups of blocks."""
        return self.starts, self.boxes, self.groups, self.hulls

    def measured(self, places: _Places, nodes: LongArray) -> _Places:
        """With exact clearances of those that are known: 0 in the wall. nodes: (k, 3) where they are on the lattice."""
        asked = np.ascontiguousarray(np.minimum(nodes[places.known], 2 * np.array(self.solidity.shape)))
        found, clear = np.empty(len(asked)), places.clear.copy()
        clearances(asked, self.solidity, self.step, self.points, *self.blocks, found)
        clear[places.known] = found
        return _Places(places.at, clear, places.known, places.ends)
