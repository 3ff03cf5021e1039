"""Islands: material that starts in mid-air in the build order, held by nothing until it grows into what is held."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ventplanner.analysis.cups import NOISE_MM, NOISE_MM3, runs_at_start, start_point
from ventplanner.geometry.columns import Runs
from ventplanner.geometry.join_tree import JoinTree, sealed_pieces
from ventplanner.geometry.material import material_tree
from ventplanner.geometry.solid import FloatArray

LEAST_LAYERS = 4
"""What grows into something held within so many layers is no island (own judgement)."""

LEAST_CELLS = 8.0
"""Nor is what holds less than so many cells of the raster (pitch cubed): its place in the raster, not its shape,
decides how long it stays apart (own judgement)."""

TOUCH_MM = 0.1
"""A support that ends this near to the part, and a column's width beside the column that was asked, touches it (own
judgement: two layers)."""


@dataclass(frozen=True, eq=False)
class Island:
    """Material that starts in mid-air. Heights are build heights in mm.

    start: (3,) build point at its lowest place. from_height: where it starts. joins_height: where it becomes one with
    an older island, None if it does not. held_height: where it, or the island it joined, first grows into what the
    plate or a support holds; None: it never does, it is a loose piece. start_area: mm2 of its first layer. peak_area:
    its largest area in mm2. volume: mm3 until it joins. cavity: the id of the cavity in which it starts, "" outside.
    """

    start: FloatArray
    from_height: float
    joins_height: float | None
    held_height: float | None
    start_area: float
    peak_area: float
    volume: float
    cavity: str = ""


def held_runs(material: Runs, layer_mm: float, touches: FloatArray | None) -> NDArray[np.bool_]:
    """Which runs of material are held where they start, (n,) bool.

    touches: (k, 3) build points of the supports' corners, None where there are no supports. Without them the lowest
    layer is held: by the plate, or by supports still to be made. With them only what they touch is.
    """
    held = np.zeros(len(material.z0), dtype=np.bool_)
    if not len(held):
        return held
    if touches is None:
        return np.asarray(material.z0 <= material.z0.min() + layer_mm)
    held[np.unique(runs_touched(material, touches))] = True
    return held


def runs_touched(material: Runs, points: FloatArray) -> NDArray[np.int64]:
    """The runs of material that points lie in, or whose starts they come near."""
    inside = np.asarray(material.run_at(points))
    x, y = material.grid.centres(material.column_of_run)
    # A column's width beside counts as near: squeezed by the pitch in x and y, by the touch in z.
    scale = np.array([1.0 / material.grid.pitch, 1.0 / material.grid.pitch, 1.0 / TOUCH_MM])
    starts = np.stack((x, y, material.z0), axis=1) * scale
    apart, nearest = map(np.asarray, cKDTree(starts).query(points * scale, distance_upper_bound=1.0))
    return np.concatenate((inside[inside >= 0], nearest[np.isfinite(apart)])).astype(np.int64)


def islands_of(
    material: Runs, held: NDArray[np.bool_], layer_mm: float, least_mm: float, least_mm3: float
) -> tuple[Island, ...]:
    """The islands that stay apart over more than `least_mm` with more than `least_mm3`, by height, then place.

    material: `material_runs` of the part. held: `held_runs`. layer_mm: height of a layer.
    """
    if not len(material.z0):
        return ()
    tree = material_tree(material, held)
    height = float(material.z1.max())
    low = min(float(material.z0.min()), 0.0)
    rows = np.zeros(tree.n_branches, dtype=np.int32)
    pieces = sealed_pieces(tree, rows, 1, height, height - low)
    birth = np.where(np.arange(tree.n_branches) > 0, tree.birth, np.inf)  # what is held was never apart
    apart = np.minimum(tree.merge, pieces.top) - birth
    kept = (apart > least_mm) & (pieces.volume > max(least_mm3, NOISE_MM3))
    branches = np.flatnonzero(kept)
    starts = [start_point(material, runs) for runs in runs_at_start(tree, branches)]
    rows[branches] = np.arange(1, len(branches) + 1)
    areas = sealed_pieces(tree, rows, len(branches) + 1, height, _step(height, material.grid.pitch)).curves
    first = _start_areas(tree, branches, layer_mm)
    found = [
        _island(tree, int(b), start, first[k], float(areas[k + 1].max()), float(pieces.volume[b]))
        for k, (b, start) in enumerate(zip(branches, starts, strict=True))
    ]
    return tuple(sorted(found, key=lambda i: (round(i.from_height, 2), *np.round(i.start[:2], 2).tolist())))


def _step(height: float, pitch: float) -> float:
    return height / max(1, int(np.ceil(height / pitch - 1e-9)))


def _start_areas(tree: JoinTree, branches: NDArray[np.int64], layer_mm: float) -> list[float]:
    """mm2 of the first layer of each branch: of all its runs that start within it.

    A flat start that is no convex patch begins as several branches, which join at that very height: they are one.
    """
    runs = tree.enclosed_runs
    at_once = (tree.parent > 0) & (tree.merge <= np.where(tree.parent > 0, tree.birth, 0.0) + NOISE_MM)
    stays = np.where(at_once, tree.parent, np.arange(tree.n_branches))
    while not np.array_equal(further := stays[stays], stays):
        stays = further
    branch = stays[tree.branch_of_run[runs]]
    first = tree.runs.z0[runs] <= tree.birth[branch] + layer_mm
    count = np.bincount(branch[first], minlength=tree.n_branches)
    return list((count[branches] * tree.runs.pixel_area).tolist())


def _island(tree: JoinTree, branch: int, start: FloatArray, first: float, peak: float, volume: float) -> Island:
    merge, opens = float(tree.merge[branch]), float(tree.opens[branch])
    return Island(
        start=start,
        from_height=float(tree.birth[branch]),
        # What meets an older island and what is held at one height is held.
        joins_height=merge if tree.parent[branch] > 0 and merge < opens - NOISE_MM else None,
        held_height=None if np.isinf(opens) else opens,
        start_area=first,
        peak_area=max(peak, first),
        volume=volume,
    )
