"""What is told of a part that is held so: what ran where, its pools with the heights at which they run over, what
stays and why."""

from __future__ import annotations

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.draining.bath import Bath, Rest
from ventplanner.draining.model import How, Left, Pool, Ran, Step, Why
from ventplanner.draining.mouths import OUT
from ventplanner.draining.waiting import thicker, wait
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point
from ventplanner.profile import Profile

FULL_MM3 = 1e-6
"""A pool that would take no more than this is full: sums of many cells are not exact to the last bit."""


def step_of(
    findings: Findings, bath: Bath, how: How, before: FloatArray, at: Rest, profile: Profile, drip: float
) -> Step:
    """One move and the wait after it. before: (n,) mm3 in each cell; drip: s to wait besides."""
    names = [c.id for c in findings.cavities]
    nominal = wait(bath, before, at)
    most = wait(thicker(bath, profile.viscosity_span_pas[1]), before, at)
    left = at.settled.volume
    gravity = findings.scene.frame.direction_to_file(-at.up)
    return Step(
        how, _point(gravity), nominal + drip, most + drip, left, float(before.sum()) - left, _ran(bath, names, before,
        at), _pools(findings, bath, at), tuple((names[k], air) for k, air in sorted(at.air.items())), at,
    )  # fmt: skip


def _ran(bath: Bath, names: list[str], before: FloatArray, at: Rest) -> tuple[Ran, ...]:
    """What left each cavity, through its lowest mouth."""
    found = []
    for k, name in enumerate(names):
        own = bath.cells.cavity == k
        gone = float(before[own].sum() - at.liquid[own].sum())
        mouths = [(n, m) for n, m in enumerate(bath.doors.mouths) if m.cavity == k]
        if gone > 0.05:
            lowest = min(mouths, key=lambda pair: bath.lip(pair[0], at.up))[1] if mouths else None
            to = "" if lowest is None or lowest.beyond == OUT else names[lowest.beyond]
            found.append(Ran(name, "" if lowest is None else lowest.name, to, gone))
    return tuple(found)


def _pools(findings: Findings, bath: Bath, at: Rest) -> tuple[Pool, ...]:
    """Every pool that holds something, the largest first; one that lies in several cavities is one for each."""
    cells, tilt, number, found = bath.cells, bath.tilt_of(at), at.settled.pool, []
    names = [*(c.id for c in findings.cavities), ""]
    frame = findings.scene.frame
    lift = float(frame.to_file(np.zeros(3)) @ frame.direction_to_file(at.up))
    low = cells.far.astype(np.float64) @ at.up
    wet = np.flatnonzero(at.liquid > 0.0)
    key = number[wet].astype(np.int64) * len(names) + np.where(cells.cavity[wet] < 0, len(names) - 1, cells.cavity[wet])
    standing = np.bincount(number[wet], at.liquid[wet], minlength=len(tilt.spill))
    for one in np.unique(key):
        own, pool = wet[key == one], int(one) // len(names)
        corner = np.unravel_index(int(np.argmin(low[own])), low[own].shape)
        level, deep = float(at.settled.level[own[0]]), float(low[own].min())
        if not np.isfinite(level):
            level = float(low[own].max())
        point = frame.to_file(cells.far[own[corner[0]], corner[1]].astype(np.float64))
        spill, more = float(tilt.spill[pool]), max(float(tilt.capacity[pool] - standing[pool]), 0.0)
        more = 0.0 if more < FULL_MM3 else more
        found.append(Pool(
            names[one % len(names)], float(at.liquid[own].sum()), level + lift, level - deep, _point(point),
            None if np.isinf(spill) else max(spill, level) + lift, None if np.isinf(more) else more,
        ))  # fmt: skip
    return tuple(sorted(found, key=lambda p: -p.volume))


def left_of(findings: Findings, step: Step, bath: Bath) -> tuple[Left, ...]:
    """What stays in each cavity and why."""
    names = [c.id for c in findings.cavities]
    air = dict(step.air)
    sums: dict[str, float] = {}
    for pool in step.pools:
        sums[pool.cavity] = sums.get(pool.cavity, 0.0) + pool.volume
    found = []
    for name, volume in sums.items():
        at = next(p.at_mm for p in step.pools if p.cavity == name)
        why: Why = "pool" if name else "outer dip"
        if name and not any(m.cavity == names.index(name) for m in bath.doors.mouths):
            why = "sealed" if findings.cavity(name).kind == "sealed" else "pool"
        elif air.get(name) == "held":
            why = "no air"
        found.append(Left(name, volume, why, at))
    return tuple(sorted(found, key=lambda one: -one.volume))


def _point(vector: FloatArray) -> Point:
    x, y, z = (float(v) + 0.0 for v in vector)
    return (x, y, z)
