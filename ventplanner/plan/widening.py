"""An existing opening that is only just too high or too small, made wider so that it reaches the start of the cup."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.cups import Cup, Cups
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.openings import Opening
from ventplanner.geometry.rays import Stretches, material_along
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules
from ventplanner.plan.candidates import SINK_MM, sphere_directions
from ventplanner.plan.fitting import MARGIN_MM, Fit, bundle

WIDEST_MM = 4.0
"""A hole is not widened beyond this (or twice its own width, or the asked diameter): a new one spoils less."""

STEP_MM = 0.1


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
    near = [o for o in findings.cavity(cavity_id).openings if o.beyond == 0 and 0.3 <= o.width <= WIDEST_MM]
    for opening in sorted(near, key=lambda o: float(o.at[2] - 0.5 * o.width)):
        found = _over(findings, cup, opening, rules)
        if found is not None:
            return found
    return None


def _over(findings: Findings, cup: Cup, opening: Opening, rules: VentRules) -> Widened | None:
    direction = bore_axis(findings, opening)
    if direction is None:
        return None
    flat = float(np.sqrt(1.0 - direction[2] ** 2))
    if flat < 0.3:
        return None  # an upright bore opens at its upper end whatever its width
    down = np.array([0.0, 0.0, -1.0]) + direction[2] * direction
    down /= np.linalg.norm(down)
    old = 0.5 * opening.width
    # From the top of the old hole to just below the start, measured across the bore.
    needed = (float(opening.at[2]) - (cup.from_height - SINK_MM)) / flat + old
    diameter = float(np.ceil(max(needed, opening.width + 0.2) / STEP_MM - 1e-9) * STEP_MM)
    if diameter > max(WIDEST_MM, rules.diameter_mm, 2.0 * opening.width):
        return None
    radius = 0.5 * diameter
    centre = opening.at + down * (radius - old)
    found = _fit_over(findings, centre, direction, radius)
    if found is None:
        return None
    high = float(opening.at[2]) - old * flat - cup.from_height
    how = f"is {high:.1f} mm too high" if high > 0.05 else "is too small"
    reason = f"The existing {opening.width:.1f} mm opening {how}; widened to {diameter:.1f} mm it reaches the start."
    return Widened(found, reason)


def bore_axis(findings: Findings, opening: Opening) -> FloatArray | None:
    """The direction of an existing hole, outwards: of all near the rough one, that along which a thinner rod clears
    the most length on both sides; None if no direction clears a bore at all."""
    scene = findings.scene
    directions = sphere_directions(2000)
    directions = directions[directions @ opening.outwards > 0.7]
    around = bundle(0.4 * opening.width)
    best, axis = 0.0, None
    for direction in directions[np.argsort(-(directions @ opening.outwards), kind="stable")][:120]:
        free = _free_length(material_along(scene.vertices, scene.solid.faces, opening.at, direction, around))
        if free > best + 1e-6:
            best, axis = free, direction
    return axis if axis is not None and best > opening.width else None


def _free_length(found: Stretches) -> float:
    """Shorter of the two lengths that all rays are free from the origin plane, at most 20 mm each."""
    ahead, behind = 20.0, 20.0
    for begin, end in zip(found.begin, found.end, strict=True):
        if begin <= 0.0 <= end:
            return 0.0
        ahead = min(ahead, float(begin)) if begin > 0 else ahead
        behind = min(behind, float(-end)) if end < 0 else behind
    return min(ahead, behind) + 0.01 * max(ahead, behind)


def _fit_over(findings: Findings, centre: FloatArray, direction: FloatArray, radius: float) -> Fit | None:
    """A drill along an existing hole: the wall is where its rim is in material, near the hole's throat."""
    scene = findings.scene
    found = material_along(scene.vertices, scene.solid.faces, centre, direction, bundle(radius))
    cut = [
        (float(b), float(e))
        for b, e in zip(found.begin, found.end, strict=True)
        if b < 2.0 * radius and e > -2.0 * radius
    ]
    short = [s for s in cut if s[1] - s[0] < 6.0 * radius]
    if not short:
        return None
    begin, end = min(s[0] for s in short), max(s[1] for s in short)
    others = [
        (float(b), float(e)) for b, e in zip(found.begin, found.end, strict=True) if (float(b), float(e)) not in cut
    ]
    if any(b < end + 2 * MARGIN_MM and e > begin - 2 * MARGIN_MM for b, e in others):
        return None
    return Fit(
        centre + begin * direction,
        centre + end * direction,
        direction,
        radius,
        MARGIN_MM,
        MARGIN_MM,
        int(found.face_out[0]),
    )
