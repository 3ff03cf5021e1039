"""The last resort: skins that nothing closes, drawn anew from how far they wind around places, and from distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from ventplanner.errors import MeshError
from ventplanner.geometry.closest import Nearest
from ventplanner.geometry.columns import Grid, cast_window
from ventplanner.geometry.material import material_at_nodes
from ventplanner.geometry.solid import FloatArray, IntArray, Solid, box_of
from ventplanner.geometry.solid_angle import CLOSER, SolidAngles
from ventplanner.geometry.topology import Topology, topology
from ventplanner.geometry.topology_kernels import SAME_WAY
from ventplanner.mend_parameters import REDRAW
from ventplanner.mending.drawing import brought_to, coarsened, drawn, farthest, nearest_on, sound
from ventplanner.mending.faces import pieces_of, suspects
from ventplanner.mending.model import Flags, LongArray, Loss, Mesh, Record, corners_of, record
from ventplanner.mending.sides import votes

MOST_NODES = 5_000_000

MOST_INVENTED = 0.4
"""A skin of which more than this share would be invented is none: an open sheet, as a dish, encloses nothing."""

MOST_LEFT_OUT = 0.1
"""So much of the broken surface may lie beside what is drawn, with nothing enclosed by it."""

SHARD_FACES = 50
"""A piece of fewer faces says little of its sides; a larger one is a skin of its own, or most of one."""

AGAINST = -1.0 / 3.0
"""A vote on the sides of a piece below this is clear."""

_EDGE_SHARE, _BOX_SHARE = 0.5, 1.0 / 160.0
"""Spacing of the grid: this share of the usual edge, or of the diagonal of what is drawn, whichever is less."""

_BLOCK = 4
_MARGIN = 3
_BAND = 2.0
_ON = 0.75
"""A vertex is on the old surface up to so many steps from it."""

_DOUBTFUL = (0.2, 0.8)
_THIN = 0.1
_SAMPLES, _WITHIN = 200, 0.25

Values = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class _Grid:
    """Nodes over what is drawn. origin: of the first; step: mm; shape: (nz, ny, nx), each one more than blocks fill."""

    origin: FloatArray
    step: float
    shape: tuple[int, int, int]

    @classmethod
    def over(cls, soup: FloatArray, inner: FloatArray) -> _Grid:
        """Over (k, 3, 3) corners, and boxes (n, 2, 3) within."""
        edge = float(np.median(np.linalg.norm(soup[:, 1] - soup[:, 0], axis=1)))
        box = box_of(np.vstack((soup.reshape(-1, 3), inner.reshape(-1, 3))))
        size = box[1] - box[0]
        diagonal = float(np.linalg.norm(size))
        room = np.maximum(size, 0.02 * diagonal)
        step = max(min(_EDGE_SHARE * edge, _BOX_SHARE * diagonal), float((room.prod() / MOST_NODES) ** (1.0 / 3.0)))
        count = np.ceil(size / step).astype(int) + 2 * _MARGIN
        blocks = -(-count // _BLOCK)
        nx, ny, nz = (_BLOCK * blocks + 1).tolist()
        return cls(box[0] - _MARGIN * step, step, (nz, ny, nx))

    def points(self, index: LongArray) -> FloatArray:
        """(k, 3) mm of nodes by their number."""
        z, y, x = np.unravel_index(index, self.shape)
        return np.asarray(self.origin + self.step * np.stack((x, y, z), axis=1))


def redraw(mesh: Mesh, found: Topology) -> tuple[Mesh, tuple[Record, ...]]:
    """Draw all skins anew that are open, have edges of three faces, or one side only; all others stay to the last bit.

    Material (or, of a cavity alone, void) is where these faces wind around a place by more than a half (Jacobson et
    al. 2013, section 5). Shards are turned over where rays count them to be; large pieces that rays say are wound
    against the others are drawn by themselves, so that no cavity is filled. The loss is in the record. Raises MeshError
    for what has no inside: a sheet, or scraps that bound nothing.
    """
    broken = np.zeros(found.n_skins, bool)
    broken[found.skin_of_face[suspects(mesh)]] = True
    rows = np.flatnonzero(broken[found.skin_of_face])
    if not len(rows):
        return mesh, ()
    used, index = np.unique(mesh.faces[rows], return_inverse=True)
    part = Mesh(mesh.vertices[used], index.reshape(-1, 3).astype(np.int32), mesh.body[rows])
    soup = part.vertices[part.faces]
    groups = _groups(part)
    inner = _whole_cavities(mesh, found, broken, part.vertices[groups[0]])
    grid, sheet = _Grid.over(soup, found.bounds_of_skin[inner]), nearest_on(soup)
    around = _around(mesh, found, inner, sheet, grid)
    windings = [_Winding.of(part.vertices[faces], grid, around) for faces in groups]
    new = _enclosing([one for winding in windings for one in winding.skins()], sheet, soup, grid.step)
    if not new or _left_out(new, windings, soup, grid.step) > MOST_LEFT_OUT:
        raise _no_inside(soup)
    first = np.cumsum([0, *(len(points) for points, _ in new)])
    points = np.vstack([points for points, _ in new])
    faces = np.vstack([faces + n for (_, faces), n in zip(new, first, strict=False)]).astype(np.int32)
    away = farthest(points, faces, soup, sheet, box_of(np.vstack((points, part.vertices))))
    loss = Loss(away, None, 2.0 * grid.step, sum(winding.doubt for winding in windings))
    whole = mesh.keeping(~broken[found.skin_of_face])
    whole = whole.adding(points, faces + len(mesh.vertices), _bodies(points[faces].mean(axis=1), part))
    _, once = np.unique(found.skin_of_face[rows], return_index=True)
    return whole, record(REDRAW, "pieces of skins that could not be closed drawn anew", corners_of(part, once), loss)


def _groups(part: Mesh) -> list[IntArray]:
    """Faces that are drawn together: what rays and windings agree on; and large pieces on which they do not."""
    found, n = pieces_of(part, part.edges)
    piece = found.astype(np.int64)
    # A piece with one side only has none that could be asked for: each of its faces by itself.
    same = np.flatnonzero(part.edges.state == SAME_WAY)
    twisted = np.zeros(n, bool)
    twisted[piece[same // 3]] = True
    lone = twisted[piece]
    piece = np.where(lone, n + np.arange(len(piece)), piece)
    names, piece = np.unique(piece, return_inverse=True)
    n = len(names)
    against = votes(part.vertices, part.faces, piece, n) < AGAINST
    shard = np.bincount(piece, minlength=n) < SHARD_FACES
    faces = part.faces.copy()
    over = (against & shard)[piece]
    faces[over] = faces[over][:, ::-1]
    other = (against & ~shard)[piece]
    return [chosen for chosen in (faces[~other], faces[other]) if len(chosen)]


@dataclass(frozen=True, eq=False)
class _Winding:
    """How far some faces wind around the nodes of a grid. values, away: (nz, ny, nx), away the mm to the nearest face
    up to two steps. around: mm from what lies a wall round cavities that
    are whole, positive there."""

    grid: _Grid
    sheet: Nearest
    angles: SolidAngles
    values: Values
    away: Values
    around: Values | None

    @classmethod
    def of(cls, soup: FloatArray, grid: _Grid, around: Values | None) -> _Winding:
        sheet = nearest_on(soup)
        angles = SolidAngles.of(sheet)
        away = sheet.offset(0.0, grid.origin, grid.step, np.ones(grid.shape, np.uint8))
        return cls(grid, sheet, angles, _values(angles, grid, away), away, around)

    @property
    def doubt(self) -> float:
        """mm3 of what lies neither clearly inside nor outside, halved."""
        size = np.abs(self.values)
        unsure = (size > _DOUBTFUL[0]) & (size < _DOUBTFUL[1])
        return 0.5 * float(np.count_nonzero(unsure)) * self.grid.step**3

    def skins(self) -> list[tuple[FloatArray, IntArray]]:
        """Bodies with their cavities, and cavities of bodies that are not among these faces."""
        found = []
        for sign in (1.0, -1.0):
            level = sign * self.values - 0.5
            if not (level > 0.0).any():
                continue
            step = self.grid.step
            # On the old surface its distance tells where it is, in a gap the winding number does.
            near = np.clip(2.0 - self.away / step, 0.0, 1.0) * np.clip(5.0 * (np.abs(level) - 0.2), 0.0, 1.0)
            size = near * self.away + (1.0 - near) * np.minimum(4.0 * step * np.abs(level), _BAND * step)
            level = np.copysign(size, level).astype(np.float32)
            if sign > 0.0 and self.around is not None and (self.values > 0.5)[self.around > 0.0].any():
                level = np.where(self.away < _BAND * step, level, np.maximum(level, self.around))
            points, faces = drawn(level, self.grid.origin, step)
            if len(faces):
                points, faces = self._finished(points, faces)
                found.append((points, faces if sign > 0.0 else np.ascontiguousarray(faces[:, ::-1])))
        return found

    def _finished(self, points: FloatArray, faces: IntArray) -> tuple[FloatArray, IntArray]:
        """On the old surface where there is one, with large faces where it is flat."""
        placed = brought_to(points, faces, self.sheet, _ON * self.grid.step)
        nothing = np.empty((0, 3))
        for mesh in (coarsened(placed, faces, self.grid.step), (placed, faces), (points, faces)):
            ready = sound(*mesh, nothing)
            if ready is not None:
                return ready
        return points, faces


def _values(angles: SolidAngles, grid: _Grid, away: Values) -> Values:
    """Winding numbers at all nodes: exact near faces and where it decides, between coarse nodes elsewhere."""
    nz, ny, nx = grid.shape
    number = np.arange(nz * ny * nx).reshape(grid.shape)
    coarse = number[::_BLOCK, ::_BLOCK, ::_BLOCK]
    few = angles.at(grid.points(coarse.ravel())).reshape(coarse.shape).astype(np.float32)
    wanted = _spread(_any_in_blocks(away < _BAND * grid.step) | _deciding(few))
    values = few
    for axis in range(3):
        values = _between(values, axis)
    index = number[wanted]
    values.ravel()[index] = angles.at(grid.points(index))
    sized = np.abs(values.ravel()[index])
    unsure = index[(sized > 0.2) & (sized < 0.8)]
    values.ravel()[unsure] = angles.at(grid.points(unsure), CLOSER)
    return values


def _deciding(few: Values) -> Flags:
    """Blocks between whose corners the winding number may pass a half."""
    low, high = np.abs(few), np.abs(few)
    for axis in range(3):
        one, other = [slice(None)] * 3, [slice(None)] * 3
        one[axis], other[axis] = slice(None, -1), slice(1, None)
        low = np.minimum(low[tuple(one)], low[tuple(other)])
        high = np.maximum(high[tuple(one)], high[tuple(other)])
    return np.asarray((low < 0.65) & (high > 0.35))


def _any_in_blocks(flags: Flags) -> Flags:
    """Blocks with a node that is flagged, those on their sides among them."""
    for axis in range(3):
        moved = np.moveaxis(flags, axis, 0)
        blocks = moved[:-1].reshape(-1, _BLOCK, *moved.shape[1:]).any(axis=1) | moved[_BLOCK::_BLOCK]
        flags = np.moveaxis(blocks, 0, axis)
    return flags


def _spread(blocks: Flags) -> Flags:
    """All nodes of blocks, those on their sides among them."""
    for axis in range(3):
        moved = np.moveaxis(blocks, axis, 0)
        nodes = np.zeros((_BLOCK * len(moved) + 1, *moved.shape[1:]), bool)
        nodes[:-1] = np.repeat(moved, _BLOCK, axis=0)
        nodes[_BLOCK::_BLOCK] |= moved
        blocks = np.moveaxis(nodes, 0, axis)
    return np.ascontiguousarray(blocks)


def _between(few: Values, axis: int) -> Values:
    """Linearly between coarse nodes along an axis."""
    moved = np.moveaxis(few, axis, 0)
    share = (np.arange(_BLOCK, dtype=np.float32) / _BLOCK).reshape(1, _BLOCK, 1, 1)
    nodes = np.empty((_BLOCK * (len(moved) - 1) + 1, *moved.shape[1:]), np.float32)
    filled = moved[:-1, None] + share * (moved[1:, None] - moved[:-1, None])
    nodes[:-1] = filled.reshape(-1, *moved.shape[1:])
    nodes[-1] = moved[-1]
    return np.ascontiguousarray(np.moveaxis(nodes, 0, axis))


def _whole_cavities(mesh: Mesh, found: Topology, broken: Flags, soup: FloatArray) -> LongArray:
    """Closed skins that point inward, in what the broken ones enclose as far as these are there."""
    angles = SolidAngles.of(nearest_on(soup))
    kept = []
    for skin in np.flatnonzero(~broken & (found.volume_of_skin < 0.0)).tolist():
        rows = found.faces_of_skin(skin)
        some = mesh.vertices[mesh.faces[rows[:: 1 + len(rows) // _SAMPLES], 0]]
        if np.mean(angles.at(some) > 0.5) > _WITHIN:
            kept.append(skin)
    return np.array(kept, np.int64)


def _around(mesh: Mesh, found: Topology, inner: LongArray, sheet: Nearest, grid: _Grid) -> Values | None:
    """mm from what lies in whole cavities, and a wall round them as thin as theirs is in most places: a gap of the skin
    over a cavity is spanned outside of that."""
    if not len(inner):
        return None
    faces = np.ascontiguousarray(mesh.faces[np.isin(found.skin_of_face, inner)][:, ::-1])
    points = mesh.vertices[np.unique(faces)]
    away, _ = sheet.points(points)
    wall = float(np.quantile(away, _THIN))
    nz, ny, nx = grid.shape
    columns = Grid(grid.origin[0] - 0.5 * grid.step, grid.origin[1] - 0.5 * grid.step, grid.step, nx, ny)
    runs = cast_window(mesh.vertices, faces, np.zeros(len(faces), np.int32), columns, (0, nx, 0, ny), tight=False)
    inside = material_at_nodes(runs, float(grid.origin[2]), grid.step, nz)
    return Nearest.of(mesh.vertices, faces).offset(-wall, grid.origin, grid.step, inside)


def _areas(soup: FloatArray) -> FloatArray:
    """mm2 of (k, 3, 3) triangles."""
    across = np.cross(soup[:, 1] - soup[:, 0], soup[:, 2] - soup[:, 0])
    return np.asarray(0.5 * np.linalg.norm(across, axis=1))


def _enclosing(
    new: list[tuple[FloatArray, IntArray]], sheet: Nearest, soup: FloatArray, step: float
) -> list[tuple[FloatArray, IntArray]]:  # fmt: skip
    """Skins of which enough is old surface: near it, and not both sides of one sheet."""
    kept = []
    old, middles = _areas(soup), np.ascontiguousarray(soup.mean(axis=1))
    for points, faces in new:
        skins = topology(Solid(points, faces))
        for skin in range(skins.n_skins):
            own = faces[skins.faces_of_skin(skin)]
            area = _areas(points[own])
            away, _ = sheet.points(np.ascontiguousarray(points[own].mean(axis=1)), 2.0 * step)
            near, _ = Nearest.of(points, own).points(middles, 2.0 * step)
            found = min(float(area[away <= step].sum()), float(old[near <= 1.5 * step].sum()))
            if found >= (1.0 - MOST_INVENTED) * area.sum():
                used, index = np.unique(own, return_inverse=True)
                kept.append((points[used], index.reshape(-1, 3).astype(np.int32)))
    return kept


def _left_out(
    new: list[tuple[FloatArray, IntArray]], groups: list[_Winding], soup: FloatArray, step: float
) -> float:  # fmt: skip
    """Share of the old surface that is not near the new one, and has not material on both its sides."""
    middles = np.ascontiguousarray(soup.mean(axis=1))
    gone = np.ones(len(soup), bool)
    for points, faces in new:
        away, _ = Nearest.of(points, faces).points(middles, 2.0 * step)
        gone &= away > 1.5 * step
    area = _areas(soup)
    rows = np.flatnonzero(gone)
    normal = np.cross(soup[rows, 1] - soup[rows, 0], soup[rows, 2] - soup[rows, 0])
    aside = 0.1 * step * normal / np.maximum(2.0 * area[rows, None], np.finfo(float).tiny)
    inside = np.zeros(len(rows), bool)
    for group in groups:
        sides = [np.abs(group.angles.at(middles[rows] + way * aside)) > 0.5 for way in (1.0, -1.0)]
        inside |= sides[0] & sides[1]
    return float(area[rows[~inside]].sum() / area.sum())


def _bodies(places: FloatArray, part: Mesh) -> IntArray:
    """The body of the old face that is nearest."""
    if not part.body.any():
        return np.zeros(len(places), np.int32)
    _, nearest = KDTree(part.vertices[part.faces].mean(axis=1)).query(places)
    return np.asarray(part.body[nearest], dtype=np.int32)


def _no_inside(soup: FloatArray) -> MeshError:
    x, y, z = soup[0].mean(axis=0).tolist()
    return MeshError(
        f"The open skin at ({x:.4g}, {y:.4g}, {z:.4g}) mm has no inside that could be told: too much of it is missing.",
        "Give sheets a thickness where the part was made, or leave them out of the export.",
        (x, y, z),
    )
