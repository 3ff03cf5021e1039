"""Mouths of cavities: the holes, openings and passages that liquid and air take, and which contacts of cells they
are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.places import Places
from ventplanner.draining.cells import Cells, Flags
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Plan, Vent

OUT = -1
"""Beyond a mouth that leads to the outside."""


@dataclass(frozen=True, eq=False)
class Mouth:
    """A way out of a cavity. name: of a vent or passage, "" for an opening of the part. cavity: place in
    `findings.cavities`; beyond: that of another cavity, or `OUT`. inner, outer: (3,) build points of its two ends.
    width: mm, of a round hole that lets through no more; length: mm."""

    name: str
    cavity: int
    beyond: int
    inner: FloatArray
    outer: FloatArray
    width: float
    length: float


def mouths_of(findings: Findings, plan: Plan) -> tuple[Mouth, ...]:
    """Every mouth of every cavity, planned ones included; a passage is a mouth of both its cavities."""
    place = {cavity.id: k for k, cavity in enumerate(findings.cavities)}
    frame, found = findings.scene.frame, []

    def ends(inner: object, outer: object) -> tuple[FloatArray, FloatArray]:
        return frame.to_build(np.asarray(inner, dtype=float)), frame.to_build(np.asarray(outer, dtype=float))

    def of_vent(vent: Vent, cavity: str) -> None:
        if cavity in place:
            both = ends(vent.exit_mm, vent.entry_mm)
            found.append(Mouth(vent.id, place[cavity], OUT, *both, vent.diameter_mm, vent.wall_mm))

    for vent in plan.vents:
        of_vent(vent, vent.cavity)
    for passage in plan.passages:
        there, here = passage.points_mm[-1], passage.points_mm[0]
        one, other = place.get(passage.cavity, OUT), place.get(passage.to, OUT)
        size = passage.diameter_mm, passage.length_mm
        if one >= 0:
            found.append(Mouth(passage.id, one, other, *ends(there, here), *size))
        if other >= 0:
            found.append(Mouth(passage.id, other, one, *ends(here, there), *size))
        if passage.outer is not None:
            of_vent(passage.outer, passage.to)
    return (*found, *_openings(findings, found))


def _openings(findings: Findings, planned: list[Mouth]) -> list[Mouth]:
    """Openings that the part has, but for those that a planned hole makes wider."""
    chamber = Places.of(findings).chamber
    wall = findings.scene.resolution.thinnest_wall_mm or findings.scene.resolution.pitch_mm
    found = []
    for k, cavity in enumerate(findings.cavities):
        for opening in cavity.openings:
            at, way = np.asarray(opening.at), np.asarray(opening.outwards)
            if any(m.cavity == k and _apart(m, at[None])[0] < 0.5 * m.width for m in planned):
                continue
            beyond = int(chamber[opening.beyond]) if opening.beyond > 0 else OUT
            half = 0.5 * wall * way
            found.append(Mouth("", k, beyond, at - half, at + half, opening.width, wall))
    return found


def _apart(mouth: Mouth, points: FloatArray) -> FloatArray:
    """(k,) mm from points to the axis of a mouth."""
    along = mouth.outer - mouth.inner
    share = np.clip((points - mouth.inner) @ along / max(float(along @ along), 1e-12), 0.0, 1.0)
    return np.asarray(np.linalg.norm(points - mouth.inner - share[:, None] * along, axis=1))


@dataclass(frozen=True, eq=False)
class Doors:
    """Mouths, and the contacts of cells that they are. mouth: (e,) number of the mouth that each contact lies in, -1
    for none; cell: (e,) the cell of its cavity there."""

    cells: Cells
    mouths: tuple[Mouth, ...]
    mouth: LongArray
    cell: LongArray

    @classmethod
    def of(cls, cells: Cells, mouths: tuple[Mouth, ...]) -> Doors:
        """Every contact between a cavity and anything else belongs to the nearest mouth of that cavity."""
        middle = cells.rim.astype(np.float64).mean(axis=1)
        mouth, cell = np.full(len(cells.ends), -1, dtype=np.int64), np.zeros(len(cells.ends), dtype=np.int64)
        side = cells.cavity[cells.ends]
        for k in sorted({m.cavity for m in mouths}):
            crossing = np.flatnonzero((side == k).sum(axis=1) == 1)
            own = [n for n, m in enumerate(mouths) if m.cavity == k]
            near = np.argmin([_apart(mouths[n], middle[crossing]) for n in own], axis=0)
            mouth[crossing] = np.array(own)[near]
            cell[crossing] = np.where(side[crossing, 0] == k, *cells.ends[crossing].T)
        return cls(cells, mouths, mouth, cell)

    def of_cavity(self, cavity: int) -> Flags:
        """(e,) bool: contacts in which this cavity ends."""
        return np.asarray((self.cells.cavity[self.cells.ends] == cavity).sum(axis=1) == 1)

    @cached_property
    def contacts(self) -> tuple[LongArray, ...]:
        """The contacts of each mouth."""
        order = np.argsort(self.mouth, kind="stable")
        bounds = np.searchsorted(self.mouth[order], np.arange(len(self.mouths) + 1))
        return tuple(order[a:b] for a, b in pairwise(bounds))

    def wet(self, liquid: FloatArray) -> Flags:
        """(mouths,) bool: whether liquid stands at its inner end. liquid: (n,) mm3."""
        share = liquid / np.maximum(self.cells.volume, 1e-12)
        found = np.zeros(len(self.mouths), dtype=bool)
        for n, own in enumerate(self.contacts):
            area = self.cells.area[own]
            found[n] = len(own) > 0 and float(area @ share[self.cell[own]]) > 0.5 * float(area.sum())
        return found
