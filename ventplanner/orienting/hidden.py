"""How much the holes of an orientation are seen, coarsely: as much as the outer skin near where they would come out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ventplanner.analysis.findings import Findings
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules
from ventplanner.plan.views import COARSE_RINGS, Views, normals_of

PLACES, NEAR = 800, 3
"""So many places of the outer skin are looked at once; a hole is seen as the mean of so many nearest to it is."""

TURNS = (0.7548776662466927, 0.5698402909980532)
"""The additive recurrence that fills a square evenly (Roberts 2018, "The unreasonable effectiveness of quasirandom
sequences"; from memory)."""


@dataclass(frozen=True, eq=False)
class Hidden:
    """places: (k, 3) build points all over the outer skin, as a tree. seen: (k, views) 1 where a place is seen in a
    view, else 0. share: (views,) how much each view counts."""

    places: cKDTree
    seen: FloatArray
    share: FloatArray

    @classmethod
    def of(cls, findings: Findings, rules: VentRules) -> Hidden:
        """Of a part, whatever its orientation: views are those of the model as it will stand."""
        faces = _outer(findings)
        points, own = _spread(findings, faces)
        views = Views.of(findings.scene.frame, rules.seen_from, COARSE_RINGS)
        seen = views.seen_in_each(findings.scene.sight, points, normals_of(findings, faces[own].astype(np.int32)))
        return cls(cKDTree(points), seen, views.share)

    def of_holes(self, holes: FloatArray) -> float:
        """0 to 1: the share of the views in which a hole is seen; in each the one that is seen best counts. holes:
        (n, 3) build points in hollows, each of which gets a hole to the nearest skin; 0 for none."""
        if not len(holes):
            return 0.0
        _, near = self.places.query(holes, k=NEAR)
        return float(self.seen[near].mean(axis=1).max(axis=0) @ self.share)


def _outer(findings: Findings) -> LongArray:
    """(n,) faces that are of no cavity."""
    own = [c.faces for c in findings.cavities if c.kind != "cup"]
    outer = np.ones(len(findings.scene.solid.faces), dtype=bool)
    outer[np.concatenate(own) if own else []] = False
    return np.flatnonzero(outer if outer.any() else ~outer)


def _spread(findings: Findings, faces: LongArray) -> tuple[FloatArray, LongArray]:
    """(PLACES, 3) build points evenly over some faces, and which of these each lies on."""
    a, b, c = (findings.scene.vertices[findings.scene.solid.faces[faces, k]] for k in range(3))
    area = np.cumsum(np.linalg.norm(np.cross(b - a, c - a), axis=1))
    number = np.arange(PLACES) + 0.5
    own = np.searchsorted(area, number / PLACES * area[-1]).clip(0, len(faces) - 1)
    across, along = (np.modf(number * turn)[0][:, None] for turn in TURNS)
    across = np.sqrt(across)  # which makes the square an even triangle (Osada et al. 2002, ACM Trans. Graph. 21, 807)
    points = (1.0 - across) * a[own] + across * (1.0 - along) * b[own] + across * along * c[own]
    return np.asarray(points), own
