"""Liquid at rest in a part as a surface that can be drawn: the walls that it wets, and its level.

Walls are the part's own triangles, cut off at the level. The level is drawn in squares as wide as the columns, where
the columns have void and the cells say that this pool stands there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.findings import Findings
from ventplanner.draining.bath import Rest
from ventplanner.draining.cells import Cells
from ventplanner.geometry.cell_kernels import WAYS
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray, IntArray

INWARDS = (0.6, 1.5)
"""Points of the skin are looked up so many columns' distances away from the material: the nearest that is in a cell."""

NEAR = 1.0
"""A point is in a cell if it lies no more than so many columns' distances beyond its furthest points."""

SHARED = 4
"""At most so many pieces of void in one block are told apart."""

OFF_WALL = 0.05
"""Columns' distances by which the liquid is drawn off the wall, so that the two never lie in one place."""

SLACK = 0.15
"""A wall so many columns' distances from the level is at it: a hollow that is full has its ceiling, and no level."""

MOST_ACROSS = 400
"""Squares across the largest level at most."""

LEAST_MM3 = 0.5
"""Pools smaller than this get no level: nobody would see it."""


@dataclass(frozen=True, eq=False)
class Liquid:
    """A surface in build axes. vertices: (n, 3) mm; faces: (m, 3) int32, outwards as a rule."""

    vertices: FloatArray
    faces: IntArray


@dataclass(frozen=True, eq=False)
class Whereabouts:
    """Finds the cell that a point lies in. low: lower corner of block 0; order: cells by the key of their block."""

    findings: Findings
    cells: Cells
    low: FloatArray
    shape: tuple[int, int]
    order: LongArray
    keys: LongArray

    @classmethod
    def of(cls, findings: Findings, cells: Cells) -> Whereabouts:
        """For these cells."""
        grid = findings.scene.runs.grid
        low = np.array([grid.x0, grid.y0, -2.0 * grid.pitch])
        ny = int(np.ceil(grid.ny * grid.pitch / cells.side)) + 2
        nz = int(np.ceil((findings.scene.height + 8.0 * grid.pitch) / cells.side)) + 3
        made = cls(findings, cells, low, (ny, nz), np.zeros(0, np.int64), np.zeros(0, np.int64))
        keys = made._keys(cells.place[1:])
        order = np.argsort(keys, kind="stable")
        return cls(findings, cells, low, (ny, nz), order + 1, keys[order])

    def _keys(self, points: FloatArray) -> LongArray:
        at = np.floor((points - self.low) / self.cells.side + 1e-9).astype(np.int64) + 1
        ny, nz = self.shape
        return np.asarray((at[:, 0] * ny + np.clip(at[:, 1], 0, ny - 1)) * nz + np.clip(at[:, 2], 0, nz - 1))

    def cell_at(self, points: FloatArray) -> LongArray:
        """The cell of each of (n, 3) build points; 0, the outside, where there is none."""
        wanted = self._keys(points)
        first = np.searchsorted(self.keys, wanted)
        found, best = np.zeros(len(points), dtype=np.int64), np.full(len(points), NEAR * self.cells.pitch)
        for k in range(SHARED):
            at = np.minimum(first + k, len(self.keys) - 1) if len(self.keys) else first
            own = np.flatnonzero((first + k < len(self.keys)) & (self.keys[at] == wanted)) if len(self.keys) else first
            if not len(own):
                break
            cell = self.order[at[own]]
            beyond = np.full(len(own), -np.inf)
            for n, way in enumerate(WAYS):
                np.maximum(beyond, (points[own] - self.cells.far[cell, n]) @ way, out=beyond)
            nearer = beyond < best[own]
            found[own[nearer]], best[own[nearer]] = cell[nearer], beyond[nearer]
        return found


@dataclass(frozen=True, eq=False)
class Skin:
    """The part's vertices, each with the cell that it bounds (0: none). normals: (n, 3), away from the material."""

    where: Whereabouts
    normals: FloatArray
    cell: LongArray

    @classmethod
    def of(cls, findings: Findings, cells: Cells) -> Skin:
        """Looked up once for all steps."""
        where = Whereabouts.of(findings, cells)
        vertices, faces = findings.scene.vertices, findings.part.faces
        normals = _normals(vertices, faces)
        cell = np.zeros(len(vertices), dtype=np.int64)
        for far in INWARDS:
            open_ = np.flatnonzero(cell == 0)
            cell[open_] = where.cell_at(vertices[open_] + far * cells.pitch * normals[open_])
        return cls(where, normals, cell)


def liquid_at(skin: Skin, at: Rest) -> Liquid:
    """What liquid at rest looks like."""
    wet, flat = _walls(skin, at), _levels(skin, at)
    return Liquid(
        np.concatenate((wet.vertices, flat.vertices)), np.concatenate((wet.faces, flat.faces + len(wet.vertices)))
    )


def _walls(skin: Skin, at: Rest) -> Liquid:
    """The triangles under a pool, cut off at its level; turned round, as the liquid is on their other side."""
    where = skin.where
    vertices, faces = where.findings.scene.vertices, where.findings.part.faces
    height = vertices @ at.up
    level = at.settled.level[skin.cell]
    slack = SLACK * where.cells.pitch
    level = np.where((at.settled.pool[skin.cell] >= 0) & (height <= level + slack), level, np.nan)
    level[level == np.inf] = height.max() + 1.0  # a hollow without a way out that is full: it has no level
    some = np.flatnonzero(np.isfinite(level)[faces].any(axis=1))
    corner = faces[some]
    top = np.fmax.reduce(level[corner], axis=1)
    moved = vertices[corner] + OFF_WALL * where.cells.pitch * skin.normals[corner]
    above = moved @ at.up - top[:, None]
    whole = (above <= 0.0).all(axis=1)
    triangles = [moved[whole], *_below(moved[~whole], above[~whole])]
    return _of_triangles(np.concatenate(triangles)[:, ::-1])


def _below(corners: FloatArray, above: FloatArray) -> list[FloatArray]:
    """What of triangles is below 0 (Sutherland & Hodgman 1974), for those that lie across it."""
    found = []
    count = (above <= 0.0).sum(axis=1)
    for own, lone in ((count == 1, True), (count == 2, False)):
        p, h = corners[own], above[own]
        # The corner that is alone on its side comes first.
        first = np.argmax((h <= 0.0) == lone, axis=1)
        turn = (first[:, None] + np.arange(3)) % 3
        p, h = np.take_along_axis(p, turn[:, :, None], 1), np.take_along_axis(h, turn, 1)
        a, b, c = p[:, 0], p[:, 1], p[:, 2]
        ab = a + (h[:, 0] / (h[:, 0] - h[:, 1]))[:, None] * (b - a)
        ac = a + (h[:, 0] / (h[:, 0] - h[:, 2]))[:, None] * (c - a)
        pieces = [(a, ab, ac)] if lone else [(ab, b, c), (ab, c, ac)]
        found += [np.stack(piece, axis=1) for piece in pieces]
    return found


def _levels(skin: Skin, at: Rest) -> Liquid:
    """The level of each pool, in squares."""
    settled, parts = at.settled, []
    for pool in np.unique(settled.pool[settled.pool >= 0]):
        own = np.flatnonzero(settled.pool == pool)
        if float(settled.liquid[own].sum()) >= LEAST_MM3 and np.isfinite(settled.level[own[0]]):
            parts.append(_level(skin.where, at, own, float(settled.level[own[0]])))
    corners = np.concatenate(parts) if parts else np.zeros((0, 4, 3))
    faces = (4 * np.arange(len(corners))[:, None, None] + np.array([[0, 1, 2], [0, 2, 3]])).reshape(-1, 3)
    return Liquid(corners.reshape(-1, 3), faces.astype(np.int32))


def _level(where: Whereabouts, at: Rest, own: LongArray, level: float) -> FloatArray:
    """(k, 4, 3) squares of one level."""
    cells, runs = where.cells, where.findings.scene.runs
    across = _across(at.up)
    far = cells.far[own].astype(np.float64).reshape(-1, 3) @ across.T
    low, high = far.min(axis=0) - cells.pitch, far.max(axis=0) + cells.pitch
    side = max(cells.pitch, float((high - low).max()) / MOST_ACROSS)
    u, v = (np.arange(a + 0.5 * side, b, side) for a, b in zip(low, high, strict=True))
    grid = np.stack(np.meshgrid(u, v, indexing="ij"), axis=-1).reshape(-1, 2)
    middle = grid @ across + level * at.up
    # Just below the surface: at it begin the cells above.
    probe = middle - 0.02 * cells.pitch * at.up
    is_own = np.zeros(cells.count, dtype=bool)
    is_own[own] = True
    mine = np.flatnonzero(is_own[where.cell_at(probe)])
    void = np.ones(len(mine), dtype=bool)
    for points in (probe[mine], middle[mine] + SLACK * cells.pitch * at.up):
        void &= runs.run_in(runs.grid.column_at(points[:, 0], points[:, 1]), points[:, 2]) >= 0
    middle = middle[mine[void]]
    half = 0.5 * side
    return np.stack([middle + a * half * across[0] + b * half * across[1] for a, b in _SQUARE], axis=1)


_SQUARE = ((-1, -1), (1, -1), (1, 1), (-1, 1))


def _across(up: FloatArray) -> FloatArray:
    """(2, 3) unit vectors square to `up` and to each other, in this order right-handed with it."""
    helper = np.eye(3)[int(np.argmin(np.abs(up)))]
    first = np.cross(helper, up)
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(up, first)])


def _normals(vertices: FloatArray, faces: IntArray) -> FloatArray:
    """(n, 3) mean of the triangles' own at each vertex, weighted by their area."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    own = np.cross(b - a, c - a)
    flat = faces.reshape(-1)
    total = np.stack([np.bincount(flat, np.repeat(own[:, k], 3), minlength=len(vertices)) for k in range(3)], axis=1)
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1), 1e-12)[:, None])


def _of_triangles(corners: NDArray[np.float64]) -> Liquid:
    faces = np.arange(3 * len(corners), dtype=np.int32).reshape(-1, 3)
    return Liquid(corners.reshape(-1, 3), faces)
