"""More openings for cavities that have too few: air must come in while liquid leaves.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.cavities import Cavity, component_at
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.openings import Opening
from ventplanner.geometry.ray_kernels import OPEN
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules
from ventplanner.plan.candidates import THIN_WALL_MM, in_a_hollow, march_rays, sphere_directions, spread, wall_length
from ventplanner.plan.fitting import WELL_OPEN, Fit, fit, through
from ventplanner.plan.model import Kind, Vent
from ventplanner.plan.spacing import clear_of
from ventplanner.plan.widening import enlarged

USABLE_MM = 1.0
"""An existing opening this wide counts. Own rule, no source: narrower ones may print closed."""

MEASURED_WITHIN_MM = 0.1
"""The width of an opening is measured within this: a vent drilled as narrow as the rules allow counts when the part is
read again."""

ENOUGH_ALONE_MM = 14.0
"""An opening this wide counts as two: air passes the liquid in it. A pinned meniscus in a round hole becomes unstable
above 7.66 capillary lengths (Maxwell, "Capillary action", Encyclopaedia Britannica; j(1,1) = 3.83171), 13.8 mm for a
resin of 1100 kg/m3 and 35 mN/m (values from memory)."""

APART_DIAMETERS = 3.0
LEVELS = 14
TARGETS_PER_LEVEL = 6
TRIES_PER_TARGET = 3
_SIDES = np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, -1.0, 0.0]])
MOST_FITTED = 150


@dataclass(frozen=True, eq=False)
class Extra:
    """One more opening for a cavity: a new vent, or an existing hole made wide enough to count."""

    fit: Fit
    cavity: str
    kind: Kind
    reason: str


def more_openings(
    findings: Findings, rules: VentRules, fits: tuple[Fit, ...], vents: tuple[Vent, ...]
) -> Iterator[Extra]:
    """Extra openings, cavity by cavity, until each has `rules.vents_per_cavity`.

    Existing holes that are too narrow to count are widened first. A new vent goes where it gives the most height
    between openings, at least 3 diameters from all of them. A cavity too small for that stays as it is.
    """
    placed = list(fits)
    for cavity in findings.cavities:
        own = [f for f, v in zip(fits, vents, strict=True) if v.cavity == cavity.id]
        # A cavity that got no vent although it needs one has a graver problem than few openings.
        if cavity.state != "breathing" and not own:
            continue
        # A cup in no cavity has its mouth; and two holes 3 diameters apart need some room.
        if cavity.kind == "cup" or cavity.volume < 0.5 * (APART_DIAMETERS * rules.diameter_mm) ** 3:
            continue
        for extra in _for_cavity(findings, rules, cavity, own, placed):
            placed.append(extra.fit)
            yield extra


def lacking(cavity: Cavity, rules: VentRules) -> int:
    """How many openings a cavity lacks as it is, if it gets no vent for any other reason."""
    if cavity.kind == "cup" or cavity.volume < 0.5 * (APART_DIAMETERS * rules.diameter_mm) ** 3:
        return 0
    usable = [o for o in cavity.openings if o.beyond == 0 and o.width >= _enough(rules)]
    return max(0, rules.vents_per_cavity - len(usable) - sum(o.width >= ENOUGH_ALONE_MM for o in usable))


def _enough(rules: VentRules) -> float:
    """mm that an opening is to be wide to count."""
    return (min(USABLE_MM, rules.least_mm) if rules.size == "need" else USABLE_MM) - MEASURED_WITHIN_MM


def _for_cavity(
    findings: Findings, rules: VentRules, cavity: Cavity, own: list[Fit], placed: list[Fit]
) -> Iterator[Extra]:
    existing = [o for o in cavity.openings if o.beyond == 0 and not any(_covers(f, o) for f in own)]
    enough = _enough(rules)
    usable = [o for o in existing if o.width >= enough]
    places = [f.inner for f in own] + [o.at for o in usable]
    have = len(places) + sum(o.width >= ENOUGH_ALONE_MM for o in usable)
    for narrow in (o for o in existing if o.width < enough):
        wide = enlarged(findings, narrow, rules.diameter_mm) if have < rules.vents_per_cavity else None
        if wide is not None and clear_of(wide.fit, placed):
            places.append(wide.fit.inner)
            have += 1
            yield Extra(wide.fit, cavity.id, "widen", wide.reason)
    while have < rules.vents_per_cavity:
        found = _highest_apart(findings, cavity, rules, places, placed)
        if found is None:
            break
        between = min((abs(float(found.inner[2] - p[2])) for p in places), default=0.0)
        places.append(found.inner)
        have += 1
        yield Extra(found, cavity.id, "vent", _reason(found, between))


def _covers(found: Fit, opening: Opening) -> bool:
    """Whether a drill runs through an existing opening: both are one hole then."""
    along = float(np.clip((opening.at - found.inner) @ found.direction, -found.beyond, found.wall + found.before))
    return float(np.linalg.norm(opening.at - found.inner - along * found.direction)) < found.radius


def _reason(found: Fit, between: float) -> str:
    return (
        f"A second opening, {between:.1f} mm of height away from the nearest one, so that air enters while liquid"
        f" leaves; {through(found.wall)}."
    )


def _highest_apart(
    findings: Findings, cavity: Cavity, rules: VentRules, places: list[FloatArray], placed: list[Fit]
) -> Fit | None:
    radius = 0.5 * rules.diameter_mm
    apart = APART_DIAMETERS * rules.diameter_mm
    targets = _targets(findings, cavity, radius)
    if places:
        gap = np.min([np.linalg.norm(targets - p, axis=1) for p in places], axis=0)
        targets = targets[gap >= apart]
    if len(targets) == 0:
        return None
    directions = sphere_directions(120)
    origin = np.repeat(targets, len(directions), axis=0)
    direction = np.tile(directions, (len(targets), 1))
    tree = findings.scene.open_tree
    wall, ends = march_rays(tree, origin, direction, rules.longest_wall_mm)
    length = wall_length(wall)
    inner = origin + np.where(np.isfinite(wall[:, :1]), wall[:, :1], 0.0) * direction
    outside = origin + (np.where(np.isfinite(wall[:, 1:]), wall[:, 1:], 0.0) + 0.2) * direction
    good = (ends == OPEN) & (length <= rules.longest_wall_mm) & (length >= THIN_WALL_MM)
    good &= ~in_a_hollow(findings, outside) & in_cavity(findings, cavity, inner - 0.3 * direction)
    height = np.full(len(inner), np.inf)
    for p in places:
        good &= np.linalg.norm(inner - p, axis=1) >= apart
        height = np.minimum(height, np.abs(inner[:, 2] - p[2]))
    # A mm of height is worth half a mm of wall: among equal heights the shortest way wins.
    worth = np.where(np.isfinite(height), height, 0.0) - 0.5 * np.where(np.isfinite(length), length, 0.0)
    index = np.flatnonzero(good)
    kept = findings.kept_clear
    skins = (inner[index], outside[index])
    marked = [np.zeros(len(index), bool)] if kept is None else [kept.is_near(end, radius) for end in skins]
    # Those in the surface to be kept clear come last: only so many are ever fitted.
    index = index[np.lexsort((index, index % len(directions), -np.round(worth[index], 1), np.any(marked, axis=0)))]
    tried, fitted = np.zeros(len(targets), dtype=np.int64), 0
    for k in index:
        # Near-equals fail for the same reason: a few of each target are enough.
        tried[k // len(directions)] += 1
        if tried[k // len(directions)] > TRIES_PER_TARGET:
            continue
        fitted += 1
        if fitted > MOST_FITTED:
            break
        about = (float(wall[k, 0]), float(wall[k, 1]))
        found = fit(findings, origin[k], direction[k], radius, about)
        if not isinstance(found, Fit) or found.blocked > WELL_OPEN or found.wall > rules.longest_wall_mm:
            continue
        if clear_of(found, placed):
            return found
    return None


def in_cavity(findings: Findings, cavity: Cavity, points: FloatArray) -> np.ndarray:
    """(k,) bool: which of (k, 3) build points are in a cavity."""
    if cavity.kind == "sealed":
        return np.asarray(component_at(findings.scene, points) == cavity.key)
    if cavity.kind == "chamber":
        return np.asarray(findings.chambers.voxels.chamber_at(points) == cavity.key)
    numbers = [c.number for c in cavity.cups]
    return np.isin(findings.cups.cup_at(points), numbers)


def _targets(findings: Findings, cavity: Cavity, radius: float) -> FloatArray:
    """(k, 3) build points inside a cavity, well spread on levels over its whole height, off its walls if it is wide."""
    scene = findings.scene
    corners = np.array(np.meshgrid(*cavity.bounds.T, indexing="ij")).reshape(3, -1).T
    low, high = scene.frame.to_build(corners).min(axis=0), scene.frame.to_build(corners).max(axis=0)
    inset = 0.02 * (high[2] - low[2]) + 0.1
    found = []
    steps = np.linspace(0.0, 1.0, 25)
    for z in np.linspace(low[2] + inset, high[2] - inset, LEVELS):
        x, y = np.meshgrid(low[0] + steps * (high[0] - low[0]), low[1] + steps * (high[1] - low[1]))
        points = np.stack((x.ravel(), y.ravel(), np.full(x.size, z)), axis=1)
        points = points[in_cavity(findings, cavity, points)]
        roomy = np.all([in_cavity(findings, cavity, points + radius * side) for side in _SIDES], axis=0)
        points = points[roomy] if roomy.any() else points
        if len(points):
            middle = np.argsort(((points - points.mean(axis=0)) ** 2).sum(axis=1), kind="stable")
            points = points[middle]
            found.append(spread(points, TARGETS_PER_LEVEL))
    return np.concatenate(found) if found else np.empty((0, 3))
