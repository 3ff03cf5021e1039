"""How near two holes may come to each other.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ventplanner.geometry.columns import Tool
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.fitting import Fit

Point = tuple[float, float, float]

LIGAMENT_MM = 0.8
"""Material that stays between two holes at least."""


def clear_of(found: Fit, others: Sequence[Fit]) -> bool:
    """Whether a hole leaves a ligament of `LIGAMENT_MM` to every other one."""
    return all(gap_between(found, other) >= LIGAMENT_MM for other in others)


def gap_between(one: Fit, other: Fit) -> float:
    """mm between the walls of two drills (distance of their axes' segments less both radii)."""
    return gap_of_tools(one.tool, other.tool)


def gap_of_tools(one: Tool, other: Tool) -> float:
    """mm between the walls of two drills; of a slot, a square or a countersink at most a hair too little."""
    return min(_apart(a.start, a.end, b.start, b.end) - a.radius - b.radius for a in one.lanes() for b in other.lanes())


def thinnest_between(one: Tool, other: Tool) -> FloatArray:
    """(3,) the middle of the ligament between two drills where it is thinnest (where they cut each other, of what they
    share)."""
    pairs = [(a, b, *closest_points(*_ends(a), *_ends(b))) for a in one.lanes() for b in other.lanes()]
    a, b, p, q = min(pairs, key=lambda pair: float(np.linalg.norm(pair[3] - pair[2])) - pair[0].radius - pair[1].radius)
    away = max(float(np.linalg.norm(q - p)), 1e-12)
    return np.asarray(p + 0.5 * (away + a.radius - b.radius) / away * (q - p))


def _ends(tool: Tool) -> tuple[FloatArray, FloatArray]:
    return np.asarray(tool.start), np.asarray(tool.end)


def segment_distance(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> float:
    """Distance in mm of the segments a-b and c-d."""
    return _apart(*(_point(p) for p in (a, b, c, d)))


def closest_points(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(3,) the points of the segments a-b and c-d that are nearest to each other."""
    s, t = _nearest(*(_point(p) for p in (a, b, c, d)))
    return a + s * (b - a), c + t * (d - c)


def _point(p: FloatArray) -> Point:
    x, y, z = p.tolist()
    return (x, y, z)


def _apart(a: Point, b: Point, c: Point, d: Point) -> float:
    s, t = _nearest(a, b, c, d)
    p = (a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1]), a[2] + s * (b[2] - a[2]))
    return math.dist(p, (c[0] + t * (d[0] - c[0]), c[1] + t * (d[1] - c[1]), c[2] + t * (d[2] - c[2])))


def _nearest(a: Point, b: Point, c: Point, d: Point) -> tuple[float, float]:
    """Where along the segments a-b and c-d, 0..1, they are nearest (Ericson 2005, Real-Time Collision Detection,
    5.1.9). In plain numbers: arrays of three cost twenty times as much, and many thousands of pairs are asked for."""
    u, v, w = ((q[0] - p[0], q[1] - p[1], q[2] - p[2]) for p, q in ((a, b), (c, d), (c, a)))
    uu, uv, vv, uw, vw = _dot(u, u), _dot(u, v), _dot(v, v), _dot(u, w), _dot(v, w)
    det = uu * vv - uv * uv
    s = min(max((uv * vw - vv * uw) / det, 0.0), 1.0) if det > 1e-12 * uu * vv else 0.0
    t = (uv * s + vw) / vv
    if t < 0.0 or t > 1.0:
        t = min(max(t, 0.0), 1.0)
        s = min(max((uv * t - uw) / uu, 0.0), 1.0)
    return s, t


def _dot(p: Point, q: Point) -> float:
    return p[0] * q[0] + p[1] * q[1] + p[2] * q[2]
