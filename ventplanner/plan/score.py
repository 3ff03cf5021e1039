"""What a place for a vent costs: each term a small function with a unit, and their sum.

Costs are in mm of wall that would be as bad, as in `candidates`. Lengths and weights without a named source are
own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.cups import Cups
from ventplanner.analysis.findings import Findings
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.rays import square_to
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import Weights
from ventplanner.plan.fitting import Fit
from ventplanner.plan.spacing import gap_between
from ventplanner.plan.views import RIM, Views, normals_of

LOOK_MM = 2.0
"""Edges, creases and thin walls are looked for up to this far beyond the rim."""

RINGS_MM = (0.2, 0.6, 1.0, 1.5, LOOK_MM)
SPOKES = 12

CREASE_DEG = 35.0
"""Skin that turns by more than this within `LOOK_MM` of the rim has an edge or a crease there."""

ACCESS_MM = 60.0
"""A syringe or a bottle brush needs so much free way before an entry; more is not looked for."""

FAR_MM = 10.0
"""Other holes and supports further away than this count as this far."""


LEAST_SIDE = 0.05
"""The side that the slider is turned away from counts this much: among equals the better one is taken."""


@dataclass(frozen=True)
class Terms:
    """What a place brings with it. lost_mm: height above the cup's start before it opens; sealed_left_mm3: its sealed
    area x height until then; both None for a second opening, of which apart_mm counts: height between it and the
    nearest other one. wall_mm: along the axis. seen: 0..1, share of the views. bend_deg: how far the skin turns under
    the rim. edge_mm, gap_mm, support_mm: from the rim to the nearest edge, other hole, support. thin_mm: thinnest wall
    beside the rim. base_mm: height of the entry in base layers. plate_mm: from the plate. access_mm: free way straight
    before the entry. late: whether its cup still opens too late. What the whole plan with it brings, None if not
    computed: suction_pa: worst suction; printed_mm: width as printed; left_hanging_ml, left_standing_ml: mL of resin
    that stay in the cavity when it drains as it hangs, and plate side down (`analysis.pools`)."""

    lost_mm: float | None
    sealed_left_mm3: float | None
    apart_mm: float | None
    wall_mm: float
    seen: float
    bend_deg: float
    edge_mm: float
    gap_mm: float
    thin_mm: float
    support_mm: float
    base_mm: float
    plate_mm: float
    access_mm: float
    late: bool = False
    suction_pa: float | None = None
    printed_mm: float | None = None
    left_hanging_ml: float | None = None
    left_standing_ml: float | None = None

    def breathing(self, weights: Weights, apart_best: float = 0.0) -> float:
        """Cost of what is lost to breathing, in mm of wall. apart_best: mm, the most height a second one could have."""
        if self.apart_mm is not None:
            return weights.second * max(0.0, apart_best - self.apart_mm) + weights.wall * self.wall_mm
        lost, sealed = self.lost_mm or 0.0, self.sealed_left_mm3 or 0.0
        return weights.lost * lost + weights.sealed * sealed + weights.wall * self.wall_mm

    def making(self, weights: Weights) -> float:
        """Cost of what is awkward to print or to reach, in mm of wall."""
        return (
            weights.bend * self.bend_deg
            + weights.edge * max(0.0, LOOK_MM - self.edge_mm)
            + weights.gap * max(0.0, FAR_MM - self.gap_mm)
            + weights.thin * max(0.0, 1.0 - self.thin_mm)
            + weights.support * max(0.0, 2.0 - self.support_mm)
            + weights.base * self.base_mm
            + weights.plate * max(0.0, 2.0 - self.plate_mm)
            + weights.access * (1.0 - self.access_mm / ACCESS_MM)
        )

    def cost(self, prefer: float, weights: Weights, apart_best: float = 0.0) -> float:
        """The whole, in mm of wall. prefer: 0 breathes best … 1 hidden best."""
        air, look = max(1.0 - prefer, LEAST_SIDE), max(prefer, LEAST_SIDE)
        return air * self.breathing(weights, apart_best) + look * weights.seen * self.seen + self.making(weights)


@dataclass(frozen=True, eq=False)
class Judge:
    """Scores fitted drills. views: from where the part is looked at. others: drills that are there besides. base_mm:
    build height up to which layers are base layers (0: none)."""

    findings: Findings
    views: Views
    others: tuple[Fit, ...] = ()
    base_mm: float = 0.0

    def terms(self, found: Fit, apart_mm: float | None = None) -> Terms:
        """All that the place itself tells; what it does to its cup is put in by `with_cup`."""
        bend, edge, thin = self.surroundings(found)
        bottom = float(found.outer[2]) - found.radius * float(np.sqrt(max(0.0, 1.0 - found.direction[2] ** 2)))
        on_plate = self.findings.pose.on == "plate"
        return Terms(
            lost_mm=None,
            sealed_left_mm3=None,
            apart_mm=apart_mm,
            wall_mm=found.wall,
            seen=self.seen_share(found),
            bend_deg=bend,
            edge_mm=edge,
            gap_mm=self.gap(found),
            thin_mm=thin,
            support_mm=self.support_distance(found),
            base_mm=max(0.0, self.base_mm - bottom),
            plate_mm=max(0.0, bottom) if on_plate else FAR_MM,
            access_mm=self.access(found),
        )

    def seen_share(self, found: Fit) -> float:
        """0..1: the share of the views in which the entry is seen, the mean over its middle and points of its rim."""
        return float(seen_in_each(self.findings, self.views, found) @ self.views.share)

    def surroundings(self, found: Fit) -> tuple[float, float, float]:
        """(bend, edge, thin): degrees that the skin turns under the rim; mm from the rim to the nearest edge, crease or
        end of the skin, and the thinnest wall beside the rim in mm, both up to `LOOK_MM` away."""
        offsets = np.vstack([[[0.0, 0.0]], *(_ring(found.radius + step, SPOKES) for step in RINGS_MM)])
        origins, depth, faces = _down(self.findings, found, offsets)
        normals = normals_of(self.findings, np.maximum(faces, 0))
        turned = np.degrees(np.arccos(np.clip(normals @ normals[0], -1.0, 1.0)))
        turned[faces < 0] = 180.0
        rings = turned[1:].reshape(len(RINGS_MM), SPOKES)
        bend = float(min(rings[0].max(), 90.0))
        creased = np.flatnonzero((rings > CREASE_DEG).any(axis=1))
        edge = LOOK_MM if not len(creased) else (RINGS_MM[creased[0] - 1] if creased[0] else 0.0)
        met = np.flatnonzero(faces >= 0)
        behind = origins[met] - (depth[met] + 1e-4)[:, None] * found.direction
        wall, _ = self.findings.scene.sight.first(behind, np.broadcast_to(-found.direction, behind.shape), 5.0)
        return bend, edge, float(min(wall.min(initial=5.0), 5.0))

    def gap(self, found: Fit) -> float:
        """mm of material to the nearest other hole, planned or in the part; at most `FAR_MM`."""
        gaps = [FAR_MM, *(gap_between(found, other) for other in self.others)]
        for cavity in self.findings.cavities:
            for hole in cavity.openings:
                gaps.append(float(np.linalg.norm(hole.at - found.outer)) - found.radius - 0.5 * hole.width)
        return max(0.0, min(gaps))

    def support_distance(self, found: Fit) -> float:
        """mm from the rim of the entry to the nearest support, in the file or from a second one; at most `FAR_MM`."""
        scene, skins, apart = self.findings.scene, self.findings.support_skins, np.inf
        if self.findings.obstacles is not None:
            apart = self.findings.obstacles.distance(found.outer, found.outer, found.radius + FAR_MM)
        reach = found.radius + FAR_MM
        near = scene.ray_target.near(found.outer - reach, found.outer + reach) if skins.any() else np.empty(0, np.int32)
        faces = near[skins[scene.topology.skin_of_face[near]]]
        if len(faces):
            corners = np.ascontiguousarray(scene.vertices[scene.solid.faces[faces]])
            apart = min(apart, float(NearTriangles(corners).distance(found.outer[None])[0]))
        return min(max(apart - found.radius, 0.0), FAR_MM)

    def access(self, found: Fit) -> float:
        """mm of free way straight before the entry, over its whole width; at most `ACCESS_MM`."""
        offsets = np.vstack(([[0.0, 0.0]], _ring(found.radius, RIM)))
        origins = found.outer + (found.before + 0.05) * found.direction + offsets @ square_to(found.direction)
        free, _ = self.findings.scene.sight.first(origins, np.broadcast_to(found.direction, origins.shape), ACCESS_MM)
        return float(min(free.min(), ACCESS_MM))


def seen_in_each(findings: Findings, views: Views, found: Fit) -> FloatArray:
    """(views,) 0..1: how much of an entry is seen in each view, the mean over its middle and points of its rim."""
    origins, depth, faces = _down(findings, found, np.vstack(([[0.0, 0.0]], _ring(found.radius, RIM))))
    met = faces >= 0
    if not met.any():
        return np.zeros(len(views.share))
    places = origins[met] - depth[met, None] * found.direction
    normals = normals_of(findings, faces[met])
    return np.asarray(views.seen_in_each(findings.scene.sight, places, normals).mean(axis=0))


def _down(findings: Findings, found: Fit, offsets: FloatArray) -> tuple[FloatArray, FloatArray, np.ndarray]:
    """Rays from before the entry back to the skin: origins, mm to it (inf if none is there), faces."""
    start = found.before + LOOK_MM
    origins = found.outer + start * found.direction + offsets @ square_to(found.direction)
    depth, faces = findings.scene.sight.first(
        origins, np.broadcast_to(-found.direction, origins.shape), start + 2.0 * (found.radius + LOOK_MM)
    )
    return origins, depth, faces


def with_cup(terms: Terms, findings: Findings, before: Cups, after: Cups, start: FloatArray) -> Terms:
    """The terms with what the drill does to a cup: from the cups without it and with it, recomputed, not guessed.

    start: (3,) build point at the start of the cup. The sealed area x height left is that of the cup, and of those it
    joins on its way out, less what is no longer sealed anywhere.
    """
    lost = max(0.0, opening_height(after, start) - float(start[2]))
    number = cup_at(before, start)
    cup = before.cups[number] if number >= 0 else None
    freed = before.sealed_area.volume - after.sealed_area.volume
    left = max(0.0, chain_volume(before, number) - freed)
    if cup is not None:
        lost = max(0.0, opening_height(after, start) - cup.from_height)
        lost = min(lost, cup.top_height - cup.from_height)
    late = cup_at(after, start)
    is_late = late >= 0 and after.cups[late].state(findings.options) != "breathing"
    return replace(terms, lost_mm=lost, sealed_left_mm3=left, late=is_late)


def opening_height(cups: Cups, start: FloatArray) -> float:
    """Build height at which what is at a place is first joined to the outside; inf if never, -inf if it always is."""
    tree = cups.tree
    run = int(tree.runs.run_at((start + np.array([0.0, 0.0, 1e-4]))[None])[0])
    return float(tree.opens[tree.branch_of_run[run]]) if run >= 0 else -np.inf


def chain_volume(cups: Cups, number: int) -> float:
    """mm3 sealed in a cup and in all that it joins one after the other before the outside."""
    total, branch = 0.0, cups.cups[number].branch if number >= 0 else 0
    volume = {cup.branch: cup.sealed_volume for cup in cups.cups}
    while branch > 0:
        total += volume.get(int(branch), 0.0)
        branch = int(cups.tree.parent[branch])
    return total


def cup_at(cups: Cups, start: FloatArray) -> int:
    """Number of the cup that begins at a build point, -1 if none does."""
    return int(cups.cup_at((start + np.array([0.0, 0.0, 1e-4]))[None])[0])


def _ring(radius: float, count: int) -> FloatArray:
    """(count, 2) points on a circle."""
    angle = (np.arange(count) + 0.25) * (2.0 * np.pi / count)
    return radius * np.stack((np.cos(angle), np.sin(angle)), axis=1)
