"""How near two holes may come to each other.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ventplanner.geometry.columns import Tool
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.fitting import Fit

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
    return min(segment_distance(*_ends(a), *_ends(b)) - a.radius - b.radius for a in one.lanes() for b in other.lanes())


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
    p, q = closest_points(a, b, c, d)
    return float(np.linalg.norm(p - q))


def closest_points(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(3,) the points of the segments a-b and c-d that are nearest to each other (Ericson 2005, Real-Time Collision
    Detection, 5.1.9)."""
    u, v, w = b - a, d - c, a - c
    uu, uv, vv, uw, vw = u @ u, u @ v, v @ v, u @ w, v @ w
    det = uu * vv - uv * uv
    s = float(np.clip((uv * vw - vv * uw) / det, 0.0, 1.0)) if det > 1e-12 * uu * vv else 0.0
    t = float((uv * s + vw) / vv)
    if t < 0.0 or t > 1.0:
        t = float(np.clip(t, 0.0, 1.0))
        s = float(np.clip((uv * t - uw) / uu, 0.0, 1.0))
    return a + s * u, c + t * v
