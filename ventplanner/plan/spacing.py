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


def _ends(tool: Tool) -> tuple[FloatArray, FloatArray]:
    return np.asarray(tool.start), np.asarray(tool.end)


def segment_distance(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> float:
    """Distance in mm of the segments a-b and c-d (Ericson 2005, Real-Time Collision Detection, 5.1.9)."""
    u, v, w = b - a, d - c, a - c
    uu, uv, vv, uw, vw = u @ u, u @ v, v @ v, u @ w, v @ w
    det = uu * vv - uv * uv
    s = float(np.clip((uv * vw - vv * uw) / det, 0.0, 1.0)) if det > 1e-12 * uu * vv else 0.0
    t = float((uv * s + vw) / vv)
    if t < 0.0 or t > 1.0:
        t = float(np.clip(t, 0.0, 1.0))
        s = float(np.clip((uv * t - uw) / uu, 0.0, 1.0))
    return float(np.linalg.norm(w + s * u - t * v))
