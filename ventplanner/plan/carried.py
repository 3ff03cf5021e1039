"""The cavities of a drilled part under the names they had before.

A hollow that is little wider than its vents is no cavity by its shape once they are drilled, and a crevice may be one
on one grid and none on another. Drilling makes no cavity and takes none away, so the list of the part before decides.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from ventplanner.analysis import openings as measuring
from ventplanner.analysis.cavities import ABOVE_FLOOR_MM, Cavity, FoundCup, worst
from ventplanner.analysis.clearance import WayOut
from ventplanner.analysis.findings import Findings, letters
from ventplanner.analysis.openings import Opening
from ventplanner.analysis.places import Places
from ventplanner.analysis.surfaces import faces_before
from ventplanner.geometry.solid import FloatArray, IntArray, box_of
from ventplanner.plan.model import Plan, Vent

SAME_SHARE = 0.5
"""A cavity found after drilling lies in the one before that holds at least this share of it."""

WHOLE_SHARE = 0.8
"""It is all of that one when it has at least this share of its volume (own judgement)."""

EDGE_MM = 1e-3
"""A file in single precision may place the corners of a surface so far beside its bounds."""

NEAR_FILTER = 2.0
"""A pocket below the filter before may be above it on another grid, up to this many times (own judgement)."""


def carried_over(before: Findings, after: Findings, plan: Plan) -> Findings:
    """The findings of a drilled part, with the cavities of the part before under their names, in their order.

    before and after must share their build axes. A cavity that is no chamber any more, or only in pieces, keeps its
    volume and its place, and its openings, the plan's vents among them, are measured anew. What was found only after is
    listed, under a new name, when it does not breathe; when it does, it is a matter of the raster.
    """
    places = Places.of(before)
    homes = _homes(places, after)
    pieces: list[list[Cavity]] = [[] for _ in before.cavities]
    new: list[Cavity] = []
    for cavity, home in zip(after.cavities, homes, strict=True):
        if home >= 0:
            pieces[home].append(cavity)
        elif cavity.state != "breathing" and not _was_filtered(before, cavity):
            new.append(cavity)
    apart = [k for k, cavity in enumerate(before.cavities) if _whole(cavity, pieces[k]) is None]
    faces = dict(zip(apart, _faces(places, after, apart), strict=True))
    cavities = []
    for k, cavity in enumerate((*before.cavities, *new)):
        known = k < len(before.cavities)
        parts = pieces[k] if known else [cavity]
        now = _whole(cavity, parts) or _measured(after, cavity, faces[k])
        name = cavity.id if known else letters(k)
        vents = [vent for vent in plan.vents if vent.cavity == name]
        now = replace(now, openings=_with_vents(after, now.openings, vents))
        cups = sorted((c for part in parts for c in part.cups), key=lambda c: c.cup.from_height)
        state = worst([c.state for c in cups])
        cavities.append(replace(now, id=name, state=state, cups=_named(before, cavity if known else None, name, cups)))
    return replace(after, cavities=tuple(cavities))


def _homes(places: Places, after: Findings) -> list[int]:
    """For each cavity after, the place of the one before that holds most of it, -1 for none."""
    n, m = len(after.cavities), len(places.findings.cavities)
    cavity, points, share = Places.of(after).spread()
    votes: dict[int, tuple[float, int]] = {}
    pair, index = np.unique(cavity * (m + 1) + places.at(points) + 1, return_inverse=True)
    for key, weight in zip(pair.tolist(), np.bincount(index, weights=share).tolist(), strict=True):
        mine, home = divmod(key, m + 1)
        if home and weight >= SAME_SHARE:
            votes[mine] = max(votes.get(mine, (0.0, -1)), (weight, home - 1))
    return [votes.get(k, (0.0, -1))[1] for k in range(n)]


def _faces(places: Places, after: Findings, apart: list[int]) -> list[IntArray]:
    """Faces of the drilled part that bound the cavities at some places."""
    if not apart:
        return []
    bounds = np.array([places.findings.cavities[k].bounds for k in apart])
    box = np.array([bounds[:, 0].min(axis=0) - EDGE_MM, bounds[:, 1].max(axis=0) + EDGE_MM])
    return faces_before(after.scene, places.at, apart, box)


def _whole(cavity: Cavity, pieces: list[Cavity]) -> Cavity | None:
    """The piece that is all of a cavity, if there is one."""
    return next((piece for piece in pieces if piece.volume >= WHOLE_SHARE * cavity.volume), None)


def _measured(after: Findings, cavity: Cavity, faces: IntArray) -> Cavity:
    """A cavity that the shape of the drilled part does not tell any more: what is known of it, on the drilled part."""
    ways = [WayOut(0, 0, old.at, old.width, old.outwards) for old in cavity.openings]
    openings = tuple(_opening(after, way) for way in ways)
    return replace(cavity, kind="chamber", key=0, bounds=_bounds(after, faces, cavity), openings=openings, faces=faces)


def _bounds(after: Findings, faces: IntArray, cavity: Cavity) -> FloatArray:
    return box_of(after.part.vertices[after.part.faces[faces].ravel()]) if len(faces) else cavity.bounds


def _with_vents(after: Findings, openings: Iterable[Opening], vents: Iterable[Vent]) -> tuple[Opening, ...]:
    """Openings of a cavity and the vents into it, each once, widest first: a vent may end in the throat of a cavity, or
    take the place of a hole that it widens."""
    frame, found = after.scene.frame, list(openings)
    for vent in vents:
        entry, end = (frame.to_build(np.array([p]))[0] for p in (vent.entry_mm, vent.exit_mm))
        if any(_apart(o.at, entry, end) < vent.diameter_mm for o in found):
            continue
        outwards = -frame.direction_to_build(np.asarray(vent.axis))
        found.append(_opening(after, WayOut(0, 0, 0.5 * (entry + end), vent.diameter_mm, outwards)))
    # Equal widths differ by the thousandths of a raster: then they stay in their order.
    return tuple(sorted(found, key=lambda o: -round(o.width, 2)))


def _opening(after: Findings, way: WayOut) -> Opening:
    scene = after.scene
    return measuring.measure(way, scene.ray_target, after.chambers.voxels.size)


def _apart(point: FloatArray, a: FloatArray, b: FloatArray) -> float:
    """Distance in mm of a point from the segment a-b."""
    along = (b - a) / np.linalg.norm(b - a)
    return float(np.linalg.norm(point - a - along * np.clip((point - a) @ along, 0.0, np.linalg.norm(b - a))))


def _was_filtered(before: Findings, cavity: Cavity) -> bool:
    """Whether all of a cavity's bad cups were pockets just below the filter before."""
    options = before.options
    for found in cavity.cups:
        cup = found.cup
        low = (
            cup.sealed_volume < NEAR_FILTER * options.ignore_below_mm3
            or cup.sealed_height < NEAR_FILTER * options.ignore_under_mm
        )
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


def _named(before: Findings, cavity: Cavity | None, name: str, found: list[FoundCup]) -> tuple[FoundCup, ...]:
    """Cups under the names of those that a cavity had at their places; new ones are numbered on from there."""
    name_of = {c.number: c.id for c in cavity.cups} if cavity is not None else {}
    pitch = before.scene.runs.grid.pitch
    names: list[str] = []
    for cup in found:
        numbers = before.cups.cup_at(_around(cup.cup.start, pitch)).tolist() if name_of else []
        names.append(next((name_of[k] for k in numbers if k in name_of and name_of[k] not in names), ""))
    fresh = len(name_of)
    for place, known in enumerate(names):
        if not known:
            fresh += 1
            names[place] = f"{name}{fresh}"
    return tuple(replace(cup, id=known) for cup, known in zip(found, names, strict=True))
