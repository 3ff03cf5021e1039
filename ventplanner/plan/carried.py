"""The cavities of a drilled part under the names they had before.

A hollow that is little wider than its vents is no cavity by its shape once they are drilled, and a crevice may be one
on one grid and none on another. Drilling makes no cavity and takes none away, so the list of the part before decides.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis import openings as measuring
from ventplanner.analysis.cavities import ABOVE_FLOOR_MM, Cavity, FoundCup, worst
from ventplanner.analysis.clearance import WayOut
from ventplanner.analysis.findings import Findings, letters
from ventplanner.analysis.openings import Opening
from ventplanner.analysis.places import cavity_at, points_in
from ventplanner.analysis.surfaces import faces_before
from ventplanner.geometry.solid import FloatArray, IntArray, box_of
from ventplanner.plan.model import Plan, Vent

SAME_SHARE = 0.5
"""A cavity found after drilling lies in the one before that holds at least this share of it."""

WHOLE_SHARE = 0.8
"""It is all of that one when it has at least this share of its volume (own judgement)."""

EDGE = 2.0
"""A pocket below the filter before may be above it on another grid, up to this many times (own judgement)."""


def carried_over(before: Findings, after: Findings, plan: Plan) -> Findings:
    """The findings of a drilled part, with the cavities of the part before under their names, in their order.

    before and after must share their build axes. A cavity that is no chamber any more, or only in pieces, keeps its
    volume and its place, and its openings, the plan's vents among them, are measured anew. What was found only after is
    listed, under a new name, when it does not breathe; when it does, it is a matter of the raster.
    """
    homes = [_home(before, after, cavity) for cavity in after.cavities]
    named = _Names(before, after)
    cavities = [
        _carried(before, after, plan, cavity, [a for a, home in zip(after.cavities, homes, strict=True) if home == k])
        for k, cavity in enumerate(before.cavities)
    ]
    cavities = [replace(c, cups=named.cups(c.id, c.cups)) for c in cavities]
    for cavity, home in zip(after.cavities, homes, strict=True):
        if home < 0 and cavity.state != "breathing" and not _was_filtered(before, cavity):
            name = letters(len(cavities))
            cavities.append(replace(cavity, id=name, cups=named.cups(name, cavity.cups)))
    return replace(after, cavities=tuple(cavities))


def _home(before: Findings, after: Findings, cavity: Cavity) -> int:
    """The place of the cavity before that holds most of one after, -1 for none."""
    points, share = points_in(after, cavity)
    votes = np.bincount(cavity_at(before, points) + 1, weights=share, minlength=len(before.cavities) + 1)[1:]
    return int(votes.argmax()) if len(votes) and votes.max() >= SAME_SHARE else -1


def _carried(before: Findings, after: Findings, plan: Plan, cavity: Cavity, pieces: list[Cavity]) -> Cavity:
    """A cavity of the part before, as it is after: its pieces in one, or measured anew where they are not all of it."""
    cups = tuple(sorted((c for piece in pieces for c in piece.cups), key=lambda c: c.cup.from_height))
    state = worst([c.state for c in cups])
    for piece in pieces:
        if piece.volume >= WHOLE_SHARE * cavity.volume:
            return replace(piece, id=cavity.id, state=state, cups=cups)
    place = before.cavities.index(cavity)
    faces = faces_before(after.scene, lambda points: cavity_at(before, points) == place)
    return Cavity(
        id=cavity.id,
        kind="chamber",
        key=0,
        state=state,
        volume=cavity.volume,
        bounds=_bounds(after, faces, cavity),
        openings=_openings(after, [v for v in plan.vents if v.cavity == cavity.id], cavity),
        cups=cups,
        faces=faces,
    )


def _bounds(after: Findings, faces: IntArray, cavity: Cavity) -> FloatArray:
    return box_of(after.part.vertices[after.part.faces[faces].ravel()]) if len(faces) else cavity.bounds


def _openings(after: Findings, vents: Iterable[Vent], cavity: Cavity) -> tuple[Opening, ...]:
    """The vents of a cavity and the openings that it had, measured on the drilled part; widest first."""
    frame, found = after.scene.frame, []
    segments = []
    for vent in vents:
        start, end = (frame.to_build(np.array([p])) for p in (vent.entry_mm, vent.exit_mm))
        segments.append((start[0], end[0], vent.radius_mm))
        outwards = -frame.direction_to_build(np.asarray(vent.axis))
        found.append(WayOut(0, 0, 0.5 * (start[0] + end[0]), vent.diameter_mm, outwards))
    for old in cavity.openings:
        # A hole that was widened, or that a vent runs into, is the vent's by now.
        if not any(_apart(old.at, a, b) < radius for a, b, radius in segments):
            found.append(WayOut(0, 0, old.at, old.width, old.outwards))
    size = after.chambers.voxels.size
    opened = [measuring.measure(way, after.scene.vertices, after.scene.solid.faces, size) for way in found]
    return tuple(sorted(opened, key=lambda o: -o.width))


def _apart(point: FloatArray, a: FloatArray, b: FloatArray) -> float:
    """Distance in mm of a point from the segment a-b."""
    along = (b - a) / np.linalg.norm(b - a)
    return float(np.linalg.norm(point - a - along * np.clip((point - a) @ along, 0.0, np.linalg.norm(b - a))))


def _was_filtered(before: Findings, cavity: Cavity) -> bool:
    """Whether all of a cavity's bad cups were pockets just below the filter before."""
    options = before.options
    for found in cavity.cups:
        cup = found.cup
        low = cup.sealed_volume < EDGE * options.ignore_below_mm3 or cup.sealed_height < EDGE * options.ignore_under_mm
        if found.state != "breathing" and not (low and _closed_there(before, cup.start)):
            return False
    return True


def _closed_there(before: Findings, start: FloatArray) -> bool:
    tree = before.cups.tree
    points = _around(start, before.scene.runs.grid.pitch)
    run = tree.runs.run_at(points)
    return bool((tree.branch_of_run[run[run >= 0]] > 0).any())


def _around(start: FloatArray, pitch: float) -> FloatArray:
    """Places just above a pocket start and one pixel aside: on another grid the start itself may be in a wall."""
    aside = np.array([[0, 0], [1, 0], [-1, 0], [0, 1], [0, -1]]) * pitch
    heights = (ABOVE_FLOOR_MM, 0.5 * pitch)
    return np.concatenate([np.column_stack((start[:2] + aside, np.full(5, start[2] + up))) for up in heights])


@dataclass(frozen=True, eq=False)
class _Names:
    """Names of cups after drilling: those of the cups before at their place."""

    before: Findings
    after: Findings

    def cups(self, cavity: str, found: tuple[FoundCup, ...]) -> tuple[FoundCup, ...]:
        """The cups of a cavity with their names of before, new ones numbered on from there."""
        known = [c for b in self.before.cavities if b.id == cavity for c in b.cups]
        name_of = {c.number: c.id for c in known}
        pitch = self.before.scene.runs.grid.pitch
        names: list[str] = []
        for cup in found:
            numbers = self.before.cups.cup_at(_around(cup.cup.start, pitch)).tolist()
            names.append(next((name_of[k] for k in numbers if k in name_of and name_of[k] not in names), ""))
        fresh = len(known)
        for place, name in enumerate(names):
            if not name:
                fresh += 1
                names[place] = f"{cavity}{fresh}"
        return tuple(replace(cup, id=name) for cup, name in zip(found, names, strict=True))
