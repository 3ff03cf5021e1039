"""A plane cut of a mesh: directed outlines of the material, from which its section is filled. Numpy only.

The section is not cut by the graphics library but drawn over its frame: in a parallel view that looks at a cut from the
side that was taken away nothing can stand before it, and a painted area has smooth edges at any size.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.plan.model import Point
from ventplanner.ui.view.groups import Groups


@dataclass(frozen=True)
class Section:
    """A plane through `point` (build mm); what lies on the side that `normal` (unit) points to is taken away."""

    point: Point
    normal: Point

    @classmethod
    def printed_to(cls, height: float) -> Section:
        """What is printed when the print has come to a build height."""
        return cls((0.0, 0.0, height), (0.0, 0.0, 1.0))

    def beyond(self, points: FloatArray) -> FloatArray:
        """(…,) how far each of (…, 3) points is on the side taken away, mm; negative is kept."""
        return np.asarray((np.asarray(points) - np.asarray(self.point)) @ np.asarray(self.normal))

    def moved(self, mm: float) -> Section:
        """The plane moved along its normal."""
        x, y, z = (p + mm * n for p, n in zip(self.point, self.normal, strict=True))
        return Section((x, y, z), self.normal)


@dataclass(frozen=True, eq=False)
class Outlines:
    """Where a plane cuts a mesh. start, stop: (k, 3) build points of directed segments; group: (k,) of their faces.

    loops: the same segments joined end to end, as lists of segment numbers; material lies always on the same side, so
    filling them by winding number leaves out the cavities, also where skins overlap.
    """

    start: FloatArray
    stop: FloatArray
    group: Groups
    loops: tuple[NDArray[np.int64], ...]


def outlines(vertices: FloatArray, faces: IntArray, group: Groups, section: Section) -> Outlines:
    """Cut a mesh, (n, 3) and (m, 3) with (m,) groups, by a plane."""
    side = section.beyond(vertices)
    above = side > 0
    corners = above[faces]
    cut = np.flatnonzero(corners.any(axis=1) & ~corners.all(axis=1))
    corners, triangle = corners[cut], faces[cut].astype(np.int64)
    # The two edges that cross: one on which the walk round the face goes up, and one on which it comes down.
    later = np.roll(corners, -1, axis=1)
    up, down = np.argmax(~corners & later, axis=1), np.argmax(corners & ~later, axis=1)
    rows = np.arange(len(cut))
    begins = _crossing(vertices, side, triangle[rows, up], triangle[rows, (up + 1) % 3])
    ends = _crossing(vertices, side, triangle[rows, down], triangle[rows, (down + 1) % 3])
    n = len(vertices)
    name_up = _edge_name(triangle[rows, up], triangle[rows, (up + 1) % 3], n)
    name_down = _edge_name(triangle[rows, down], triangle[rows, (down + 1) % 3], n)
    return Outlines(begins, ends, group[cut], _joined(name_up, name_down))


def _edge_name(a: NDArray[np.int64], b: NDArray[np.int64], n: int) -> NDArray[np.int64]:
    return np.minimum(a, b) * n + np.maximum(a, b)


def _crossing(vertices: FloatArray, side: FloatArray, a: NDArray[np.int64], b: NDArray[np.int64]) -> FloatArray:
    # From the lower vertex number, so that both faces of an edge get the same point to the last bit.
    low, high = np.minimum(a, b), np.maximum(a, b)
    share = side[low] / (side[low] - side[high])
    return np.asarray(vertices[low] + share[:, None] * (vertices[high] - vertices[low]))


def _joined(first: NDArray[np.int64], last: NDArray[np.int64]) -> tuple[NDArray[np.int64], ...]:
    """Segments in chains: the one after a segment starts on the edge on which it ends."""
    if not len(first):
        return ()
    order = np.argsort(first, kind="stable")
    place = np.minimum(np.searchsorted(first[order], last), len(first) - 1)
    follower = np.where(first[order[place]] == last, order[place], -1).tolist()
    unseen = [True] * len(first)
    has_one_before = np.zeros(len(first), dtype=bool)
    has_one_before[[f for f in follower if f >= 0]] = True
    # Open chains first, from their beginning; what is left are rings.
    starts = [*np.flatnonzero(~has_one_before).tolist(), *range(len(first))]
    loops = []
    for begin in starts:
        chain = []
        at = begin
        while at >= 0 and unseen[at]:
            unseen[at] = False
            chain.append(at)
            at = follower[at]
        if chain:
            loops.append(np.array(chain, dtype=np.int64))
    return tuple(loops)
