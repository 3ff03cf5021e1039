"""Ceilings: surfaces over a cavity that are printed with nothing below them, flat or nearly so in this pose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.analysis.findings import Findings
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.solid import FloatArray, IntArray

LEAST_MM2 = 4.0
"""Smaller ceilings are left out: 2 mm by 2 mm are bridged from their edges (common practice, no source)."""

TOUCH_MM = 0.2
"""A support that ends so near to a ceiling touches it (own judgement)."""


@dataclass(frozen=True, eq=False)
class Ceiling:
    """A connected piece of a cavity's surface that rises little from the layers, with nothing below it.

    at: (3,) build point in it. from_height, to_height: its lowest and highest build height, mm. area: mm2 of it.
    steepness_deg: degrees from the layers, mean over its area. touches: corners of supports that touch it.
    """

    cavity: str
    at: FloatArray
    from_height: float
    to_height: float
    area: float
    steepness_deg: float
    touches: int = 0


def ceilings(findings: Findings, overhang_deg: float, touches: FloatArray | None = None) -> tuple[Ceiling, ...]:
    """The ceilings of all cavities that rise less than `overhang_deg` from the layers, cavity by cavity, largest first.

    touches: (k, 3) build points of the supports' corners, None without supports.
    """
    scene = findings.scene
    found: list[Ceiling] = []
    for cavity in findings.cavities:
        corners = scene.vertices[scene.solid.faces[cavity.faces]]
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        twice = np.linalg.norm(normal, axis=1)
        # The face looks at the plate: its normal is within the angle of -z.
        low = (twice > 0.0) & (normal[:, 2] < -(np.cos(np.radians(overhang_deg)) + 1e-9) * twice)
        index = np.flatnonzero(low)
        if not len(index):
            continue
        patch = _connected(scene.solid.faces[cavity.faces[index]])
        area = 0.5 * twice[index]
        angle = np.degrees(np.arccos(np.clip(-normal[index, 2] / twice[index], -1.0, 1.0)))
        own = [
            _ceiling(cavity.id, corners[index[patch == k]], area[patch == k], angle[patch == k], touches)
            for k in np.flatnonzero(np.bincount(patch, area) >= LEAST_MM2)
        ]
        found += sorted(own, key=lambda c: (-round(c.area, 2), round(c.from_height, 2), *np.round(c.at, 2).tolist()))
    return tuple(found)


def _connected(faces: IntArray) -> NDArray[np.int32]:
    """(k,) number of the connected piece of each of (k, 3) faces; pieces touch in a vertex."""
    vertex, index = np.unique(faces, return_inverse=True)
    n, m = len(faces), len(vertex)
    rows = np.repeat(np.arange(n), 3)
    graph = coo_array((np.ones(3 * n, dtype=np.int8), (rows, n + index.ravel())), shape=(n + m, n + m))
    _, label = connected_components(graph, directed=False)
    return np.unique(label[:n], return_inverse=True)[1].astype(np.int32)


def _ceiling(
    cavity: str, corners: FloatArray, area: FloatArray, angle: FloatArray, touches: FloatArray | None
) -> Ceiling:
    centres = corners.mean(axis=1)
    total = float(area.sum())
    middle = (centres * area[:, None]).sum(axis=0) / total
    at = centres[int(((centres - middle) ** 2).sum(axis=1).argmin())]
    z = corners[:, :, 2]
    return Ceiling(
        cavity,
        at,
        float(z.min()),
        float(z.max()),
        total,
        float((angle * area).sum() / total),
        0 if touches is None else _touched(corners, touches),
    )


def _touched(corners: FloatArray, touches: FloatArray) -> int:
    low, high = corners.min(axis=(0, 1)) - TOUCH_MM, corners.max(axis=(0, 1)) + TOUCH_MM
    near = touches[((touches >= low) & (touches <= high)).all(axis=1)]
    if not len(near):
        return 0
    return int((NearTriangles(np.ascontiguousarray(corners)).distance(near) <= TOUCH_MM).sum())
