"""How even the wall between a nested skin and the skin around it is: the evidence for a cavity.

A hollow leaves a wall of nearly one thickness. A body buried in another (a ball of radius r under a flat face, say)
has its distances spread over its own size: Archimedes' hat-box theorem makes them uniform over 2 r.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology

SHARE = 0.6
"""Share of a skin that has to keep its distance. The rest may face a bulkhead between two cavities, or a fold."""
EVEN_OF_WALL = 0.3
"""An even wall: that share of it lies within this part of the wall's thickness ..."""
EVEN_OF_BODY = 0.15
"""... and within this part of the nested skin's own width, so that a small body deep inside is not taken for one.
These three are own judgement."""

SAMPLES = 4_000
"""Points over all nested skins that are asked about; each skin gets between 24 and 400 of them."""
WORK = 160_000_000
"""Bound on points times samples of the skin around: a point near a ball's centre is as near to all of them."""


@dataclass(frozen=True)
class Wall:
    """The shortest interval of distances that holds `share` of a skin's surface; `width_mm` is the skin's own width."""

    skin: int
    low_mm: float
    high_mm: float
    width_mm: float
    share: float = SHARE

    @property
    def is_even(self) -> bool:
        """Whether the distance is nearly constant."""
        spread, wall = self.high_mm - self.low_mm, (self.high_mm + self.low_mm) / 2
        return spread <= EVEN_OF_WALL * wall and spread <= EVEN_OF_BODY * self.width_mm


def walls_between(solid: Solid, topology: Topology, skins: NDArray[np.intp], container: IntArray) -> list[Wall]:
    """The wall between each of the skins and its container, from even samples of both surfaces; deterministic.

    The width of a skin is 6 V / A, the diameter of a ball. The robust interval is the shortest half of Rousseeuw &
    Leroy (1987, section 4.4), here for 60 %.
    """
    if not len(skins):
        return []
    count = int(np.clip(SAMPLES // len(skins), 24, 400))
    points, _, _ = _sample(solid, topology, skins, np.full(len(skins), count))
    points = points.reshape(len(skins), count, 3)
    outer = np.unique(container[skins])
    spend = np.full(len(outer), int(np.clip(WORK // (len(skins) * count * len(outer)), 2_000, 40_000)))
    targets, normals, spacing = _sample(solid, topology, outer, spend)
    targets, normals = targets.reshape(len(outer), -1, 3), normals.reshape(len(outer), -1, 3)
    distances = np.empty((len(skins), count))
    for k, skin in enumerate(outer):
        mine = container[skins] == skin
        asked = points[mine].reshape(-1, 3)
        distances[mine] = _distances(asked, targets[k], normals[k], spacing[k]).reshape(-1, count)
    low, high = _shortest_interval(np.sort(distances, axis=1))
    width = 6 * np.abs(topology.volume_of_skin[skins]) / topology.area_of_skin[skins]
    return [Wall(*row) for row in zip(skins.tolist(), low.tolist(), high.tolist(), width.tolist(), strict=True)]


def _distances(points: FloatArray, targets: FloatArray, normals: FloatArray, spacing: float) -> FloatArray:
    """Distance of points to a sampled surface.

    The nearest sample lies up to a spacing beside the foot of the perpendicular, so that much of the offset along
    the surface is taken out again.
    """
    _, nearest = cKDTree(targets).query(points)
    offset = points - targets[nearest]
    across = (offset * normals[nearest]).sum(axis=1)
    along = np.maximum((offset**2).sum(axis=1) - across**2, 0.0)
    distance: FloatArray = np.sqrt(across**2 + np.maximum(along - spacing**2, 0.0))
    return distance


def _shortest_interval(ascending: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Ends of the shortest interval that holds SHARE of each row."""
    window = int(np.ceil(SHARE * ascending.shape[1]))
    width = ascending[:, window - 1 :] - ascending[:, : ascending.shape[1] - window + 1]
    best, row = width.argmin(axis=1), np.arange(len(ascending))
    return ascending[row, best], ascending[row, best + window - 1]


def _sample(
    solid: Solid, topology: Topology, skins: NDArray[np.integer], counts: NDArray[np.integer]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points spread evenly by area over each skin, the unit normals there, and the spacing on each skin in mm.

    Systematic in the running sum of areas; inside a face by the R2 sequence (Roberts 2018, "The unreasonable
    effectiveness of quasirandom sequences").
    """
    runs = [topology.faces_of_skin(int(skin)) for skin in skins]
    faces, lengths = np.concatenate(runs), np.array([len(run) for run in runs])
    total = np.concatenate([[0.0], np.cumsum(topology.area_of_face[faces], dtype=np.float64)])
    ends = np.cumsum(lengths)
    before, areas = total[ends - lengths], total[ends] - total[ends - lengths]
    which = np.repeat(np.arange(len(skins)), counts)
    step = (np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts) + 0.5) / counts[which]
    place = np.searchsorted(total, before[which] + step * areas[which], side="right") - 1
    place = np.clip(place, (ends - lengths)[which], ends[which] - 1)
    u, v = (np.arange(len(which)) * g % 1.0 for g in (0.7548776662466927, 0.5698402909980532))
    u, v = np.where(u + v > 1, 1 - u, u)[:, None], np.where(u + v > 1, 1 - v, v)[:, None]
    a, b, c = (solid.vertices[solid.faces[faces[place], k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), np.finfo(float).tiny)
    return a + u * (b - a) + v * (c - a), normal, np.sqrt(areas / counts)
