"""Thin walls: where a part is thinner than a set thickness, and what the wall parts from what."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.resolution import walls_along
from ventplanner.geometry.solid import FloatArray, box_of

FEWEST = 3
"""One column alone may have met a corner: a place is thin where three of them say so (own judgement)."""

TOGETHER = 2.5
"""Columns so many steps apart, across the grid, belong to one place (own judgement)."""


@dataclass(frozen=True, eq=False)
class ThinPlace:
    """at: (3,) build point in the wall, where it is thinnest. thickness: mm there. area: mm2 of wall under the limit,
    within the raster of the samples. between: what is on either side: ids of cavities, "" for outside, ascending."""

    at: FloatArray
    thickness: float
    area: float
    between: tuple[str, str]


def thin_places(findings: Findings, thin_mm: float) -> tuple[ThinPlace, ...]:
    """Places where the wall is thinner than `thin_mm`, the largest first.

    Sampled by a coarse grid of columns along each axis (`analysis.resolution`): a thin place smaller than three of its
    columns is missed. Supports in the file are left out.
    """
    scene = findings.scene
    of_part = np.flatnonzero(~findings.support_skins[scene.topology.skin_of_face])
    faces, bounds = scene.solid.faces[of_part], _cavity_of_face(findings)[of_part]
    box = box_of(scene.vertices)
    found: list[ThinPlace] = []
    middle, thickness, area, sides, step = ([] for _ in range(5))
    for axis in range(3):
        met = walls_along(scene.vertices, faces, box, axis)
        thin = np.flatnonzero((met.thickness < thin_mm) & met.leading)
        middle.append(met.middle[thin])
        thickness.append(met.thickness[thin])
        area.append(met.area[thin])
        sides.append(np.sort(bounds[met.skins[thin]], axis=1))
        step.append(np.full(len(thin), met.pitch))
    points, pairs = np.concatenate(middle), np.concatenate(sides)
    thick, mm2 = np.concatenate(thickness), np.concatenate(area)
    patch = _together(points, pairs, TOGETHER * max((float(s.max(initial=0.0)) for s in step), default=0.0))
    for k in np.flatnonzero(np.bincount(patch, minlength=1) >= FEWEST):
        own = np.flatnonzero(patch == k)
        least = own[int(np.argmin(np.round(thick[own], 6)))]
        names = sorted("" if p < 0 else findings.cavities[p].id for p in pairs[least])
        found.append(ThinPlace(points[least], float(thick[least]), float(mm2[own].sum()), (names[0], names[1])))
    return tuple(sorted(found, key=lambda t: (-round(t.area, 3), *np.round(t.at, 3).tolist())))


def _cavity_of_face(findings: Findings) -> NDArray[np.int64]:
    """(m,) the cavity that each face of the part bounds, by its place in the findings; -1 for none."""
    found = np.full(len(findings.scene.solid.faces), -1, dtype=np.int64)
    for place, cavity in enumerate(findings.cavities):
        found[cavity.faces] = place
    return found


def _together(points: FloatArray, sides: NDArray[np.int64], reach: float) -> NDArray[np.int64]:
    """(k,) number of the place of each point: points within reach that have the same on either side are one."""
    if not len(points):
        return np.empty(0, dtype=np.int64)
    pairs = cKDTree(points).query_pairs(reach, output_type="ndarray")
    pairs = pairs[(sides[pairs[:, 0]] == sides[pairs[:, 1]]).all(axis=1)]
    ones = np.ones(len(pairs), dtype=np.int8)
    _, label = connected_components(coo_array((ones, pairs.T), shape=(len(points),) * 2), directed=False)
    return np.asarray(label, dtype=np.int64)
