"""An existing opening that is only just too high or too small, made wider so that it reaches the start of the cup.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.cups import Cup, Cups
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.openings import Opening
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.rays import first_hits, material_along, square_to
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules
from ventplanner.plan.candidates import RIM_ROOM, SINK_MM
from ventplanner.plan.fitting import MARGIN_MM, PLATE_RIM_MM, Fit, bundle, objection

WIDEST_MM = 4.0
"""A hole is not widened beyond this (or twice its own width, or the asked diameter): a new one spoils less."""

NARROWEST_MM = 0.3
"""Narrower gaps are no holes that somebody made."""

STEP_MM = 0.1
MOST_UNMET = 4
"""Of 24 rays across a hole, this many may pass through gaps in its wall."""


@dataclass(frozen=True, eq=False)
class Widened:
    """A fitted drill over an existing opening, and why."""

    fit: Fit
    reason: str


def widened(findings: Findings, cups: Cups, number: int, cavity_id: str, rules: VentRules) -> Widened | None:
    """A wider hole over the lowest existing opening of the cup's cavity that reaches the cup's start, if sensible."""
    cup = cups.cups[number]
    if not cavity_id or cup.to_height is None or cup.joins_height is not None:
        return None
    near = [o for o in findings.cavity(cavity_id).openings if o.beyond == 0 and NARROWEST_MM <= o.width <= WIDEST_MM]
    for opening in sorted(near, key=lambda o: float(o.at[2] - 0.5 * o.width)):
        found = _down_to_start(findings, cup, opening, rules)
        if found is not None:
            return found
    return None


def enlarged(findings: Findings, opening: Opening, diameter: float) -> Widened | None:
    """The same hole with this diameter, around its own axis: for one that is in the right place but too small."""
    direction = bore_axis(findings, opening)
    if direction is None or opening.width < NARROWEST_MM:
        return None
    found = _fit_over(findings, opening.at, direction, 0.5 * diameter)
    if found is None:
        return None
    return Widened(found, f"The existing {opening.width:.1f} mm opening is too small; widened to {diameter:.1f} mm.")


def _down_to_start(findings: Findings, cup: Cup, opening: Opening, rules: VentRules) -> Widened | None:
    direction = bore_axis(findings, opening)
    if direction is None:
        return None
    flat = float(np.sqrt(1.0 - direction[2] ** 2))
    if flat < 0.3:
        return None  # an upright bore opens at its upper end whatever its width
    down = np.array([0.0, 0.0, -1.0]) + direction[2] * direction
    down /= np.linalg.norm(down)
    old = 0.5 * opening.width
    lowest = cup.from_height - SINK_MM
    if findings.pose.on == "plate":
        lowest = max(lowest, RIM_ROOM * PLATE_RIM_MM)
    # From the top of the old hole to just below the start, measured across the bore.
    needed = (float(opening.at[2]) - lowest) / flat + old
    diameter = float(np.ceil(max(needed, opening.width + 0.2) / STEP_MM - 1e-9) * STEP_MM)
    if diameter > max(WIDEST_MM, rules.diameter_mm, 2.0 * opening.width):
        return None
    radius = 0.5 * diameter
    found = _fit_over(findings, opening.at + down * (radius - old), direction, radius)
    if found is None:
        return None
    high = float(opening.at[2]) - old * flat - cup.from_height
    how = f"is {high:.1f} mm too high" if high > 0.05 else "is too small"
    above = float(found.inner[2]) - radius * flat - cup.from_height
    where = f"opens {above:.1f} mm above the start" if above > 0.05 else "reaches the start"
    reason = f"The existing {opening.width:.1f} mm opening {how}; widened to {diameter:.1f} mm it {where}."
    return Widened(found, reason)


def bore_axis(findings: Findings, opening: Opening) -> FloatArray | None:
    """The axis of an existing hole, outwards: the direction that the walls met around its throat have in common.

    Rays across the hole meet its wall; the axis is square to the normals there (least eigenvector of the sum of
    n n^T). None where nothing is met on most sides: no bore, but a slit or a mouth.
    """
    scene = findings.scene
    near = NearTriangles.within(scene.ray_target, opening.at, 3.0 * opening.width)
    if near is None:
        return None
    edges = near.corners[:, 1:] - near.corners[:, :1]
    normals = np.cross(edges[:, 0], edges[:, 1])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)
    axis = opening.outwards
    angle = np.arange(24) * (np.pi / 12) + 0.05
    for _ in range(3):
        around = np.stack((np.cos(angle), np.sin(angle)), axis=1) @ square_to(axis)
        hits = first_hits(near.corners, opening.at, around)
        if (hits < 0).sum() > MOST_UNMET:
            return None
        met = normals[hits[hits >= 0]]
        values, vectors = np.linalg.eigh(met.T @ met)
        if values[1] < 0.15 * len(met):
            return None  # walls on two sides only
        axis = vectors[:, 0] * (1.0 if vectors[:, 0] @ opening.outwards >= 0 else -1.0)
    return np.asarray(axis)


def _fit_over(findings: Findings, centre: FloatArray, direction: FloatArray, radius: float) -> Fit | None:
    """A drill along an existing hole: the wall is where its rim is in material, near the hole's throat."""
    scene = findings.scene
    found = material_along(scene.ray_target, centre, direction, bundle(radius))
    stretches = list(zip(found.begin.tolist(), found.end.tolist(), strict=True))
    cut = [s for s in stretches if s[0] < 2.0 * radius and s[1] > -2.0 * radius]
    if not cut:
        return None
    # Rays that run on into the floor or along the skin say nothing about the wall.
    usual = 1.5 * float(np.median([s[1] - s[0] for s in cut]))
    short = [s for s in cut if s[1] - s[0] <= usual]
    begin, end = min(s[0] for s in short), max(s[1] for s in short)
    if any(s[0] < end + 2 * MARGIN_MM and s[1] > begin - 2 * MARGIN_MM for s in stretches if s not in cut):
        return None
    inner, outer = centre + begin * direction, centre + end * direction
    fitted = Fit(inner, outer, direction, radius, MARGIN_MM, MARGIN_MM, 0.0)
    own = scene.topology.skin_of_face[np.concatenate((found.face_in, found.face_out))]
    return None if objection(findings, fitted, own) else fitted
