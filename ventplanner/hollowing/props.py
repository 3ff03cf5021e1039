"""Nothing in the hollow starts in mid-air: what does is carried by a rib that goes down to the nearest wall.

An island is gathered, layer by layer, to one place under it, and that goes on downwards, a little towards the nearest
wall in every layer, until it is there. Where a ceiling is to be no flatter than some angle, every place of it goes down
so: places in a flat ceiling go apart towards the walls on their sides and leave the shape of a hipped roof.

That every layer has to lie within a short reach of the one below is the condition of Hornus & Lefebvre 2018, "Iterative
carving for self-supporting 3D printed cavities"; this way of keeping it is ours.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.spatial import cKDTree

from ventplanner.geometry.columns import Grid, Runs
from ventplanner.geometry.material import material_tree
from ventplanner.geometry.solid import FloatArray
from ventplanner.hollowing.field import Nodes, Values

Bools = NDArray[np.bool_]
Pixels = NDArray[np.int64]
Share = Callable[[float], None]

RIB_ANGLE_DEG = 45.0
"""Ribs that carry what would be an island rise at this angle (own judgement: safe with any resin)."""

RIB_MM = 1.2
"""Thickness of ribs, and of what a roof is made of at its edge (own judgement)."""


@dataclass(frozen=True, eq=False)
class Island:
    """Material that starts in mid-air. layer: of the grid. pixels: (k, 2) y, x of where it starts."""

    layer: int
    pixels: Pixels

    def gathering(self, reach: float) -> FloatArray:
        """(k, 5) its places: y, x, the one of them in the middle, and the layers until all of them can be there."""
        middle = self.pixels[((self.pixels - self.pixels.mean(axis=0)) ** 2).sum(axis=1).argmin()]
        layers = np.ceil(np.sqrt(((self.pixels - middle) ** 2).sum(axis=1).max()) / reach)
        n = len(self.pixels)
        return np.column_stack((self.pixels, np.tile(middle, (n, 1)), np.full(n, layers))).astype(np.float64)


def islands(nodes: Nodes, void: Bools) -> tuple[Island, ...]:
    """Where material starts in mid-air over the hollow.

    void: (nz, ny, nx), the hollow. What starts over the outside was so before. Layers are the grid's; columns touch
    across corners.
    """
    runs, k0, over = _material_runs(nodes, void)
    if not over.any():
        return ()
    tree = material_tree(runs, ~over)
    branch = tree.branch_of_run
    # Runs that start together may be told apart before they join at the same height: that is no island.
    apart = (tree.merge > tree.birth) & (np.arange(tree.n_branches) > 0)
    starts = np.flatnonzero(apart[branch] & (k0 <= tree.birth[branch]) & over)
    found = []
    for own in np.unique(branch[starts]):
        of_it = starts[branch[starts] == own]
        column = runs.column_of_run[of_it].astype(np.int64)
        found.append(Island(int(k0[of_it[0]]), np.stack(np.divmod(column, runs.grid.nx), axis=1)))
    return tuple(found)


def _material_runs(nodes: Nodes, void: Bools) -> tuple[Runs, Pixels, Bools]:
    """Material in each column, heights in layers; the first layer of each run, and whether the hollow is below it."""
    material = nodes.inside.astype(bool) & ~void
    nz, ny, nx = material.shape
    edge = np.zeros((ny * nx, nz + 1), dtype=np.int8)
    flat = np.ascontiguousarray(material.reshape(nz, -1).T)
    edge[:, :-1] = flat
    edge[:, 1:] -= flat
    column, k0 = np.nonzero(edge == 1)
    k1 = np.nonzero(edge == -1)[1]
    offsets = np.zeros(ny * nx + 1, dtype=np.int64)
    np.cumsum(np.bincount(column, minlength=ny * nx), out=offsets[1:])
    none = np.zeros(len(column), dtype=np.int32)
    grid = Grid(0.0, 0.0, 1.0, nx, ny)
    runs = Runs(grid, offsets, k0.astype(float), k1.astype(float), none, np.zeros(ny * nx, dtype=bool))
    over = void.reshape(nz, -1)[np.maximum(k0 - 1, 0), column]
    return runs, k0.astype(np.int64), over


def ribs(nodes: Nodes, void: Bools, found: Sequence[Island], angle_deg: float, share: Share) -> FloatArray:
    """(k, 3) build points x, y, z, a step apart, through which ribs go that carry islands and rise at some angle."""
    reach = 1.0 / np.tan(np.radians(angle_deg))
    fresh: dict[int, list[FloatArray]] = {}
    for island in found:
        fresh.setdefault(island.layer, []).append(island.gathering(reach))
    return _descended(nodes, void, reach, share, lambda k, _: np.concatenate(fresh[k]) if k in fresh else None)


def roofs(nodes: Nodes, void: Bools, angle_deg: float, share: Share) -> FloatArray:
    """The same for every place of a ceiling that is flatter than the angle, without islands."""
    reach = 1.0 / np.tan(np.radians(angle_deg))
    solid = nodes.inside.astype(bool) & ~void

    def unsupported(k: int, away: FloatArray) -> FloatArray:
        at = np.argwhere(solid[k] & void[k - 1] & (away > reach)).astype(np.float64)
        return np.column_stack((at, at, np.zeros(len(at))))

    return _descended(nodes, void, reach, share, unsupported)


def _descended(
    nodes: Nodes, void: Bools, reach: float, share: Share, fresh: Callable[[int, FloatArray], FloatArray | None]
) -> FloatArray:
    """Places led down layer by layer until they are at a wall.

    fresh: (n, 5) those that begin under layer k (y, x, where they gather first, and for how many layers), given how far
    from a wall the pixels of the next layer are.
    """
    live, found = np.empty((0, 5)), []
    for k in range(len(void) - 1, 0, -1):
        share(1.0 - k / len(void))
        if not void[k - 1].any():
            live = live[:0]
            continue
        solid = nodes.inside[k - 1].astype(bool) & ~void[k - 1]
        away, nearest = distance_transform_edt(~solid, return_indices=True)
        more = fresh(k, np.asarray(away))
        live = live if more is None else np.concatenate((live, more))
        if len(live):
            live = _lower(live, np.asarray(away), np.asarray(nearest), reach)
            found.append(np.column_stack((live[:, 1], live[:, 0], np.full(len(live), k - 1))))
    places = np.concatenate(found) if found else np.empty((0, 3))
    return np.asarray(nodes.origin + nodes.step * places)


def _lower(live: FloatArray, away: FloatArray, nearest: NDArray[np.integer], reach: float) -> FloatArray:
    """Places one layer lower: to where they gather, or else towards the nearest wall, by the reach at most; those that
    get to a wall are done. Twins become one."""
    at = np.rint(live[:, :2]).astype(np.int64)
    gathers = live[:, 4] > 0.0
    wall = nearest[:, at[:, 0], at[:, 1]].T
    way = np.where(gathers[:, None], live[:, 2:4], wall) - live[:, :2]
    length = np.linalg.norm(way, axis=1)
    go_on = np.where(gathers, True, length > reach) & (away[at[:, 0], at[:, 1]] > 0.0)
    moved = live[go_on]
    moved[:, :2] += way[go_on] * np.minimum(1.0, reach / np.maximum(length[go_on], 1e-9))[:, None]
    moved[:, 4] -= 1.0
    _, first = np.unique(np.rint(2.0 * moved[:, :2]).astype(np.int64), axis=0, return_index=True)
    return moved[first]


def beside(nodes: Nodes, points: FloatArray) -> Values:
    """What is outside the ribs through some build points: distance less half their thickness, negative in them."""
    out = np.full(nodes.inside.shape, nodes.far, dtype=np.float32)
    if not len(points):
        return out
    far = 0.5 * RIB_MM + nodes.far
    rings = int(np.ceil(far / nodes.step)) + 1
    at = np.rint((points - nodes.origin) / nodes.step).astype(np.int64)[:, ::-1]
    low = np.maximum(at.min(axis=0) - rings, 0)
    high = np.minimum(at.max(axis=0) + rings + 1, out.shape)
    empty = np.ones(tuple(high - low), dtype=bool)
    empty[tuple((at - low).T)] = False
    near = np.argwhere(np.asarray(distance_transform_edt(empty)) <= rings) + low
    places = nodes.origin + nodes.step * near[:, ::-1]
    gap, _ = cKDTree(points).query(places, distance_upper_bound=far)
    out[tuple(near.T)] = np.minimum(np.asarray(gap) - 0.5 * RIB_MM, nodes.far)
    return out
