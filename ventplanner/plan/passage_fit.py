"""A passage measured exactly: one clean hole between two hollows, with enough material all round.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.findings import Findings
from ventplanner.geometry.cylinder import corner_radius, segments_for
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.groups import pieces_met
from ventplanner.geometry.plug import reach
from ventplanner.geometry.plug_euler import euler_taken
from ventplanner.geometry.rays import Stretches, material_along, point_on
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.drilling import tool_boxes
from ventplanner.plan.fitting import (
    FAR_WALL_MM,
    HALF_OPEN,
    IN_THE_WAY,
    MARGIN_MM,
    RAYS,
    STEEPEST,
    SUPPORT_CLEAR_MM,
    Fit,
    bundle,
    fit,
)
from ventplanner.plan.model import Passage, Vent
from ventplanner.plan.refusal import Refusal

STEP_MM = 0.2
"""The axis is measured in steps of this; what may lie between two of them is taken off."""

RING = 24
"""Rays beside a passage, where the least wall ends."""

TOO_NEAR = "too little material would stay round it"
BESIDE = "a wall beside it would be too thin"
NOT_CLEAN = "it would open something else"

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Bored:
    """A passage in build axes. stops: (2 or 3, 3), from the skin of the cup to that of the space it leads to. before,
    beyond: mm that it stands out there, and in the cup. clearance: mm of material round it, see `Passage`.
    blocked: share of its section that runs into the floor beside the cup."""

    stops: FloatArray
    radius: float
    before: float
    beyond: float
    clearance: float
    blocked: float

    @property
    def length(self) -> float:
        """mm along the axis."""
        return float(np.linalg.norm(np.diff(self.stops, axis=0), axis=1).sum())


def straight(
    findings: Findings, line: tuple[FloatArray, FloatArray], radius: float, about: tuple[float, float], own: Flags
) -> Bored | str:
    """Fit a straight passage to the wall that a line (origin in the cup, unit direction) meets near `about`.

    own: (m,) bool, the faces of the two hollows that it joins. Returns why there is none in a few words otherwise.
    """
    found = straight_unmeasured(findings, line, radius, about)
    return found if isinstance(found, str) else measured(findings, found, own)


def straight_unmeasured(
    findings: Findings, line: tuple[FloatArray, FloatArray], radius: float, about: tuple[float, float]
) -> Bored | str:
    """As `straight`, as if there were any amount of material round it."""
    found = fit(findings, *line, radius, about)
    if not isinstance(found, Fit):
        return found
    return Bored(np.array([found.inner, found.outer]), radius, found.before, found.beyond, np.inf, found.blocked)


def measured(findings: Findings, bored: Bored, own: Flags) -> Bored:
    """A straight passage with the material that stays round it."""
    inner, outer = bored.stops
    along = (outer - inner) / bored.length
    ends = np.array([outer + bored.before * along, inner - bored.beyond * along])
    return replace(bored, clearance=clearance(findings, ends, bored.radius, own))


def half(
    findings: Findings, knee: FloatArray, end: FloatArray, radius: float, in_cup: bool
) -> tuple[float, float, float] | str:
    """One leg of a bent passage, from its knee in the material to a place in a hollow: mm to the skin and how far it
    stands out there, and its blocked share; or why not. in_cup: it may run into the floor there, as a vent may."""
    length, rays = float(np.linalg.norm(end - knee)), bundle(radius)
    way = (end - knee) / length
    found = material_along(findings.scene.ray_target, knee, way, rays)
    here = _stretch_at(found, 0, 0.0)
    if here is None or here[1] >= length + radius:
        return Refusal(IN_THE_WAY, knee if here is None else end)
    skin, deepest = here[1], here[1] + radius + MARGIN_MM
    furthest, blocked, others = skin, 0, []
    for ray in range(RAYS):
        mine = _stretch_at(found, ray, 0.0)
        if mine is None or mine[0] > -radius:
            return Refusal(IN_THE_WAY, point_on(knee, way, rays[ray], 0.0 if mine is None else mine[0]))
        if mine[1] > skin + STEEPEST * radius + 0.2:
            blocked += 1
        furthest = max(furthest, min(mine[1], deepest))
        others += [s[0] for s in found.of(ray) if s[0] > mine[1]]
    if blocked > (HALF_OPEN * RAYS if in_cup else 0):
        return Refusal("the skin is too oblique there", knee + skin * way)
    ahead = min(others, default=np.inf)
    room = ahead - skin - FAR_WALL_MM
    out = furthest - skin + MARGIN_MM
    if room < (0.1 if in_cup else out):
        return Refusal(IN_THE_WAY, knee + ahead * way)
    return skin, min(out, room), blocked / RAYS


def _stretch_at(found: Stretches, ray: int, at: float) -> tuple[float, float] | None:
    return next((s for s in found.of(ray) if s[0] < at < s[1]), None)


def clearance(findings: Findings, ends: FloatArray, radius: float, own: Flags) -> float:
    """mm between the wall of a drill (axis through `ends`, (n, 3) build) and the nearest face that is not of `own`;
    never too much, too little by some thousandths at most."""
    legs = []
    for a, b in pairwise(ends):
        count = 2 + int(np.linalg.norm(b - a) / STEP_MM)
        legs.append(a + np.linspace(0.0, 1.0, count)[:, None] * (b - a))
    # Between two steps the axis comes nearer by no more than a right triangle allows.
    least = nearest(findings, np.concatenate(legs), own)
    return float(np.sqrt(max(least**2 - (0.5 * STEP_MM) ** 2, 0.0))) - corner_radius(radius, segments_for(radius))


def nearest(findings: Findings, points: FloatArray, own: Flags) -> float:
    """mm from the nearest of (k, 3) build points to the nearest face that is not of `own`; the size of the part if
    there is none."""
    scene, look = findings.scene, 3.0
    extent = float(np.ptp(scene.vertices, axis=0).max()) + look
    while True:
        faces = scene.ray_target.near(points.min(axis=0) - look, points.max(axis=0) + look)
        faces = faces[~own[faces]]
        least = np.inf
        if len(faces):
            corners = np.ascontiguousarray(scene.vertices[scene.solid.faces[faces]])
            least = float(NearTriangles(corners).distance(points).min())
        if least <= look or look > extent:
            return min(least, extent)
        look *= 2.0


def thin_beside(
    findings: Findings, start: FloatArray, end: FloatArray, radius: float, wall: float, knees: int
) -> FloatArray | None:
    """Where the material does not reach `wall` mm beyond the side of a leg, but for the slant of the skins: a (3,)
    build point; None where it does all along it.

    knees: how many of its ends lie in the material (bit 1: the start, bit 2: the end), not at a skin.
    """
    length = float(np.linalg.norm(end - start))
    reach_mm = radius + wall
    angle = np.arange(RING) * (2.0 * np.pi / RING) + 0.05
    ring = reach_mm * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    way = (end - start) / length
    found = material_along(findings.scene.ray_target, start, way, ring)
    slant = STEEPEST * reach_mm
    for ray in range(RING):
        inside = [s for s in found.of(ray) if s[1] > 0.0 and s[0] < length]
        first = 0.0 if knees & 1 else slant
        last = 0.0 if knees & 2 else slant
        if len(inside) == 1 and inside[0][0] <= first and inside[0][1] >= length - last:
            continue
        # Where it begins too late, else where it first ends.
        ends = [s[0] for s in inside[:1] if s[0] > first] + [s[1] for s in inside[:1]]
        return point_on(start, way, ring[ray], min(max(ends[0] if ends else 0.5 * length, 0.0), length))
    return None


def touches_support(findings: Findings, ends: FloatArray, radius: float) -> bool:
    """Whether a drill comes too near to a support in the file."""
    if not findings.support_skins.any():
        return False
    others = ~findings.support_skins[findings.scene.topology.skin_of_face]
    return clearance(findings, ends, radius, others) < SUPPORT_CLEAR_MM


def is_clean(findings: Findings, legs: Sequence[Vent]) -> bool:
    """Whether a passage takes exactly one plug out of the material: then it joins its two ends and opens nothing else,
    cuts nothing loose, and breaks out nowhere. Foretold by the Euler number, see `geometry.plug_euler`."""
    part, topology = findings.part, findings.scene.topology
    bores = [leg.bore for leg in legs]
    taken = []
    for faces in pieces_met(part, topology, tool_boxes(legs)):
        piece = part.faces[faces]
        taken.append(euler_taken([reach(part.vertices, piece, bore) for bore in bores]))
    return 1 in taken and all(k in (0, 1) for k in taken)


def as_passage(findings: Findings, bored: Bored, names: tuple[str, str, str, str], reason: str) -> Passage:
    """A fitted passage in the file's axes. names: its id, the cavity and cup it starts in, and where it leads to."""
    points = tuple((float(x), float(y), float(z)) for x, y, z in findings.scene.frame.to_file(bored.stops))
    diameter = round(2.0 * bored.radius, 9)
    return Passage(*names, points, diameter, bored.clearance, bored.before, bored.beyond, reason)
