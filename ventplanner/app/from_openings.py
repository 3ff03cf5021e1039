"""Vents by hand that begin with a hole that is there: in another place instead of it, or further in along its axis.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.openings import Opening
from ventplanner.app.closing_openings import carried
from ventplanner.app.dragging import NO_CAVITY, moved, others_of
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.rays import first_hits, material_along, square_to
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.closing import Closed, filled, still_breathing
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.spacing import LIGAMENT_MM
from ventplanner.plan.widening import MOST_UNMET, bore_axis

NARROWEST_MM = 0.1
HAIR_MM = 0.15
"""A drill that goes on in a hole is this much narrower: it passes, and does not scrape the side."""

LIFT_MM = 0.4
"""So far above its floor the side of a blind hole is looked at: one less deep is a dent."""

WIDEST_MM = 12.0
RAYS = 24

NO_BORE = "no straight hole ends there: point at the floor of one"
NO_HOLLOW = "no hollow is behind the wall that the hole ends at"

_ORIGIN, _AXIS = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)


def blank(name: str, diameter: float) -> Vent:
    """A vent that is nowhere yet."""
    return Vent(name, "", "", "vent", _ORIGIN, _ORIGIN, _AXIS, diameter, 0.0, 0.0, 0.0)


def elsewhere(
    findings: Findings, opening: Opening, plan: Plan, name: str, at: tuple[FloatArray, FloatArray]
) -> Vent | str:
    """A vent as wide as an opening, to tenths of a mm, where the opening is to go; or why none fits there.

    at: (3,) build point of the skin, and (3,) its direction outwards.
    """
    width = max(round(opening.width, 1), NARROWEST_MM)
    found = moved(findings, blank(name, width), *at, False, others_of(plan))
    if isinstance(found, str):
        return found
    return replace(found, reason=f"Instead of the opening {opening.width:.1f} mm wide. {found.reason}")


def is_beside(opening: Opening, point: FloatArray) -> bool:
    """Whether an opening leaves no room for a vent of its width at a (3,) build point, unless it is closed first."""
    away = np.asarray(point) - opening.at
    away = away - (away @ opening.outwards) * opening.outwards
    return float(np.linalg.norm(away)) < opening.width + LIGAMENT_MM


def moved_beside(
    findings: Findings,
    opening: Opening,
    plan: Plan,
    name: str,
    at: tuple[FloatArray, FloatArray],
    mask: FaceMask | None = None,
) -> tuple[Closed, Vent] | str:
    """An opening moved by little, so that the vent is fitted to the wall that closes it: the part without it, and the
    vent; or why not, in a few words. at: as in `elsewhere`; also a place within the hole. mask: faces of the part as it
    came that are to be kept clear."""
    solid = filled(findings, opening, plan)
    if isinstance(solid, str):
        return f"it is not closed: {solid}"
    without = analyse(solid, findings.pose, findings.options, frame=findings.scene.frame)
    if mask is not None:
        kept = carried(mask, findings.part, solid)
        without = without.keeping_clear(kept if kept else None)
    axis = bore_axis(findings, opening)
    vent = elsewhere(without, opening, plan, name, at)
    if isinstance(vent, str) and axis is not None:
        # Of a place within the hole, what is meant is the skin that now goes on over it.
        met = material_along(without.scene.ray_target, at[0], axis, np.zeros((1, 2))).of(0)
        near = [end for begin, end in met if begin - opening.width < 0.0 < end + opening.width]
        again = elsewhere(without, opening, plan, name, (at[0] + near[0] * axis, axis)) if near else vent
        vent = vent if isinstance(again, str) else again
    if isinstance(vent, str):
        return f"no vent fits there: {vent}"
    done = still_breathing(findings, opening, solid, plan.with_vent(vent))
    return done if isinstance(done, str) else (done, vent)


def hole_before(findings: Findings, plan: Plan, point: FloatArray, towards: FloatArray) -> float | None:
    """mm: how wide the narrow hole is, an opening of the part or a vent of the plan, in or through which a place is
    seen; None if it is seen past all of them. point: (3,) build point; towards: (3,) build unit vector, to the eye."""
    frame = findings.scene.frame
    holes = [(opening.at, opening.width) for cavity in findings.cavities for opening in cavity.openings]
    holes += [(frame.to_build(np.asarray(end)), v.diameter_mm) for v in plan.vents for end in (v.entry_mm, v.exit_mm)]
    for at, width in holes:
        before = np.asarray(at, dtype=np.float64) - point
        along = float(before @ towards)
        if width <= WIDEST_MM and along > -width and np.linalg.norm(before - along * towards) <= 0.5 * width:
            return float(width)
    return None


def drilled_on(findings: Findings, vent: Vent, opening: Opening, others: tuple[Vent, ...]) -> Vent | str:
    """The vent that goes on from an existing opening: along its axis, through the wall behind the hollow that it leads
    into, a hair narrower; or why there is none, in a few words."""
    axis = bore_axis(findings, opening)
    if axis is None or opening.width > WIDEST_MM:
        return "the opening is no straight hole"
    return _further_in(findings, vent, opening, axis, others)


def drilled_on_at(
    findings: Findings, vent: Vent, at: tuple[FloatArray, FloatArray], others: tuple[Vent, ...]
) -> Vent | str:
    """The vent that makes a blind hole go on into the hollow behind it: along the hole's axis, a hair narrower; or why
    there is none. at: (3,) build point of its floor, and (3,) its direction out of the material."""
    found = _blind_hole(findings, *at)
    return found if isinstance(found, str) else _further_in(findings, vent, *found, others)


def _further_in(
    findings: Findings, vent: Vent, hole: Opening, axis: FloatArray, others: tuple[Vent, ...]
) -> Vent | str:
    width = np.floor(10.0 * (hole.width - HAIR_MM) + 1e-9) / 10.0
    if width < NARROWEST_MM:
        return "the hole is too narrow for a drill"
    met = material_along(findings.scene.ray_target, hole.at, axis, np.zeros((1, 2))).of(0)
    ends = [end for _, end in met if end < 0.0]
    if not ends:
        return NO_HOLLOW
    found = moved(findings, replace(vent, diameter_mm=float(width)), hole.at + max(ends) * axis, axis, False, others)
    if isinstance(found, str):
        return NO_HOLLOW if found.startswith(NO_CAVITY) else found
    if np.asarray(found.axis) @ findings.scene.frame.direction_to_file(axis) > 0.0:
        return NO_HOLLOW  # it would come from behind
    how = f"Goes on from the hole {hole.width:.1f} mm wide, along its axis, through {found.wall_mm:.1f} mm of wall."
    return replace(found, reason=how)


def _blind_hole(findings: Findings, point: FloatArray, normal: FloatArray) -> tuple[Opening, FloatArray] | str:
    """The hole whose floor has this point, as an opening in its middle just above the floor, and its axis outwards.

    The middle is that of the circle through what rays across the hole meet (Kasa 1976, "A circle fitting procedure and
    its error analysis", IEEE Trans. Instrum. Meas. 25(1)), its width that of the circle within.
    """
    axis = normal / max(float(np.linalg.norm(normal)), 1e-300)
    near = NearTriangles.within(findings.scene.ray_target, point, WIDEST_MM)
    if near is None:
        return NO_BORE
    edges = near.corners[:, 1:] - near.corners[:, :1]
    normals = np.cross(edges[:, 0], edges[:, 1])
    angle = np.arange(RAYS) * (2.0 * np.pi / RAYS) + 0.05
    flat = np.stack((np.cos(angle), np.sin(angle)), axis=1)
    middle, hole = point, None
    for _ in range(3):
        across = square_to(axis)
        middle = point + LIFT_MM * axis + ((middle - point) @ across.T) @ across
        ways = flat @ across
        hits = first_hits(near.corners, middle, ways)
        met = hits >= 0
        if (~met).sum() > MOST_UNMET:
            return NO_BORE
        faces, ways = hits[met], ways[met]
        away = ((near.corners[faces, 0] - middle) * normals[faces]).sum(axis=1)
        rim = (away / (ways * normals[faces]).sum(axis=1))[:, None] * ways @ across.T
        u, v, _ = np.linalg.lstsq(np.column_stack((2.0 * rim, np.ones(len(rim)))), (rim**2).sum(axis=1), rcond=None)[0]
        middle = middle + np.array([u, v]) @ across
        width = 2.0 * float(np.linalg.norm(rim - [u, v], axis=1).min())
        if not 0.0 < width <= WIDEST_MM:
            return NO_BORE
        hole = Opening(middle, width, axis)
        found = bore_axis(findings, hole)
        if found is None:
            return NO_BORE
        axis = found
    return NO_BORE if hole is None else (hole, axis)
