"""Where a hole that does not fit meets what it must not: sought when a refusal is shown, not while ways are tried."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.analysis.findings import Findings
from ventplanner.geometry.bore import Bore
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.tube import from_axis
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.model import Vent
from ventplanner.plan.passage_fit import NOT_CLEAN, TOO_NEAR, Bored, Flags
from ventplanner.plan.refusal import Refusal, place_of_refusal


def pointed_at(findings: Findings, why: str, bored: Bored, legs: Sequence[Vent], own: Flags) -> Refusal:
    """A refusal of a fitted passage with the place that forbids it. legs: its holes, in the file's axes. own: (m,)
    bool, the faces of the two hollows that it joins."""
    at = place_of_refusal(why)
    if at is None and why == TOO_NEAR:
        at = _nearest_wall(findings, bored, ~own)
    if at is None and why == NOT_CLEAN:
        at = also_met(findings, legs)
    return Refusal(why, at)


def not_clean(findings: Findings, legs: Sequence[Vent]) -> Refusal:
    """That holes would open something else, with the place."""
    return Refusal(NOT_CLEAN, also_met(findings, legs))


def also_met(findings: Findings, legs: Sequence[Vent]) -> FloatArray | None:
    """(3,) build point of what holes cut beside the two skins that they shall lead through: of all that they cut and
    that hangs together with neither of these, else of all that they cut, what is furthest from where they begin and
    end. None if they cut nothing."""
    frame = findings.scene.frame
    ends = frame.to_build(np.array([legs[0].entry_mm, legs[-1].exit_mm]))
    met = [_cut_by(findings, lane) for leg in legs for lane in tool_of_vent(findings, leg).lanes()]
    faces, at = np.concatenate([m[0] for m in met]), np.concatenate([m[1] for m in met])
    if not len(faces):
        return None
    apart = np.linalg.norm(at[:, None] - ends, axis=2)
    patch = _patches(findings.scene.solid.faces[faces])
    other = ~np.isin(patch, patch[apart.argmin(axis=0)])
    least = np.where(other | ~other.any(), apart.min(axis=1), -1.0)
    return np.asarray(at[int(least.argmax())])


def _cut_by(findings: Findings, lane: Bore) -> tuple[IntArray, FloatArray]:
    """Faces that a tool cuts, and of each the point nearest to its axis."""
    ends = np.array([lane.start, lane.end])
    scene = findings.scene
    faces = scene.ray_target.near(ends.min(axis=0) - lane.radius, ends.max(axis=0) + lane.radius)
    if not len(faces):
        return faces, np.zeros((0, 3))
    away, at = from_axis(lane, scene.vertices[scene.solid.faces[faces]])
    inside = away < lane.radius
    return faces[inside], at[inside]


def _patches(faces: IntArray) -> IntArray:
    """(k,) number of the patch of each face: those of one patch hang together by their corners."""
    corners, count = faces.ravel(), len(faces)
    _, corner = np.unique(corners, return_inverse=True)
    rows = np.repeat(np.arange(count), 3)
    graph = coo_array((np.ones(len(rows)), (rows, count + corner)), shape=(count + corner.max() + 1,) * 2)
    return np.asarray(connected_components(graph, directed=False)[1][:count])


def _nearest_wall(findings: Findings, bored: Bored, which: Flags) -> FloatArray | None:
    """Of some faces, (m,) bool, the (3,) build point that comes nearest to the axis of a passage; None without any."""
    scene = findings.scene
    found: tuple[float, FloatArray | None] = np.inf, None
    for a, b in pairwise(bored.stops):
        lane = Bore((a[0], a[1], a[2]), (b[0], b[1], b[2]), bored.radius)
        look = bored.radius + max(bored.clearance if np.isfinite(bored.clearance) else 0.0, 0.0) + 1.0
        faces = scene.ray_target.near(np.minimum(a, b) - look, np.maximum(a, b) + look)
        faces = faces[which[faces]]
        if not len(faces):
            continue
        away, at = from_axis(lane, scene.vertices[scene.solid.faces[faces]])
        nearest = int(away.argmin())
        if away[nearest] < found[0]:
            found = float(away[nearest]), np.asarray(at[nearest])
    return found[1]
