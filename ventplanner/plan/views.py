"""From where a part is looked at when it stands as a model, and in what share of these views a place is seen.

How a part is displayed has nothing to do with how it is printed. Directions here are in the file's axes and point from
the part to whoever looks at it. Lengths and weights without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.geometry.pose import BuildFrame
from ventplanner.geometry.rays import square_to
from ventplanner.geometry.sight import Sight
from ventplanner.geometry.solid import FloatArray, IntArray

RINGS, COARSE_RINGS = 12, 8
"""Rings of directions from pole to pole: 15 degrees apart, and 22.5 where thousands of places are compared."""

LIFT_MM = 0.02
"""A place is looked at from this far above its skin."""

BELOW = -0.09
"""Without a direction given, nobody looks from further below the horizon than this (sine; about 5 degrees)."""

FROM_ABOVE = 0.25
"""Without a direction given, straight from above a part is looked at this much as often as from the side."""

RIM = 6
"""Points of an entry that are looked at beside its middle."""


@dataclass(frozen=True, eq=False)
class Views:
    """directions: (k, 3) unit vectors in build axes, from the part to the eye. share: (k,) how much each counts; the
    sum is 1."""

    directions: FloatArray
    share: FloatArray

    @classmethod
    def of(cls, frame: BuildFrame, seen_from: tuple[float, float, float] | None = None, rings: int = RINGS) -> Views:
        """Views of a part that stands with the file's z axis upright.

        seen_from: the direction in the file's axes from which it is looked at: that one counts most, those beside it
        by the square of the cosine, those from behind not at all. None: from all sides at eye level, rarely from
        above and never from below.
        """
        directions, area = all_around(rings)
        if seen_from is None:
            up = directions[:, 2]
            weight = np.where(up >= BELOW, 1.0 - (1.0 - FROM_ABOVE) * up * up, 0.0)
        else:
            front = np.asarray(seen_from, dtype=np.float64)
            front = front / max(float(np.linalg.norm(front)), 1e-300)
            # The set is turned so that it lies about the direction in the same way, wherever that points.
            across = square_to(front)
            directions = directions @ np.vstack((across, front))
            weight = np.maximum(directions @ front, 0.0) ** 2
        used = weight > 1e-12
        weight = (weight * area)[used]
        return cls(frame.direction_to_build(directions[used]), weight / weight.sum())

    @cached_property
    def middle(self) -> FloatArray:
        """(3,) the mean view in build axes; of views from all sides nearly none."""
        return np.asarray(self.share @ self.directions)

    def seen(self, sight: Sight, points: FloatArray, normals: FloatArray) -> FloatArray:
        """(k,) 0..1: in which share of the views each place of the skin is seen.

        points: (k, 3) build points on the skin. normals: (k, 3) unit, out of the material.
        """
        return np.asarray(self.seen_in_each(sight, points, normals) @ self.share, dtype=float)

    def seen_in_each(self, sight: Sight, points: FloatArray, normals: FloatArray) -> FloatArray:
        """(k, views) 1 where a place of the skin is seen in a view, else 0; arguments as of `seen`."""
        facing = normals @ self.directions.T > 1e-9
        place, view = np.nonzero(facing)
        origins = points[place] + LIFT_MM * normals[place]
        along, _ = sight.first(origins, self.directions[view])
        free = np.isinf(along)
        found = np.zeros(facing.shape)
        found[place[free], view[free]] = 1.0
        return found


def all_around(rings: int = RINGS) -> tuple[FloatArray, FloatArray]:
    """(k, 3) unit vectors on rings about z, and (k,) the solid angle of each in sr; they sum to 4 pi exactly.

    The number on each ring is a multiple of four, so the set is the same after quarter turns about z.
    """
    edges = np.linspace(-0.5 * np.pi, 0.5 * np.pi, rings + 1)
    found, area = [], []
    for low, high in pairwise(edges.tolist()):
        middle = 0.5 * (low + high)
        count = 4 * max(1, round(0.5 * rings * np.cos(middle)))
        angle = (np.arange(count) + 0.5) * (2.0 * np.pi / count)
        flat = np.cos(middle)
        found.append(np.stack((flat * np.cos(angle), flat * np.sin(angle), np.full(count, np.sin(middle))), axis=1))
        area.append(np.full(count, 2.0 * np.pi * (np.sin(high) - np.sin(low)) / count))
    return np.concatenate(found), np.concatenate(area)


def normals_of(findings: Findings, faces: IntArray) -> FloatArray:
    """(k, 3) unit normals of faces in build axes, out of the material; of a face without area (0, 0, 0)."""
    a, b, c = (findings.scene.vertices[findings.scene.solid.faces[faces, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    return np.asarray(normal / np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None])
