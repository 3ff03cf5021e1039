"""Mouths of cavities: the holes, openings and passages that liquid and air take, and which contacts of cells they
are."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.places import Places
from ventplanner.draining.cells import Cells, Flags
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.rays import square_to
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.ducts import Section, circle, rectangle, slot
from ventplanner.plan.model import Plan, Vent

OUT = -1
"""Beyond a mouth that leads to the outside."""

TURNS = 45
"""The narrow side of an opening is looked for in so many directions in a quarter of a turn."""

SLIT = 1.3
"""An opening at least so many times as long as wide is a slit: less is within what columns tell (own judgement)."""


@dataclass(frozen=True, eq=False)
class Mouth:
    """A way out of a cavity. name: of a vent or passage, "" for an opening of the part. cavity: place in
    `findings.cavities`; beyond: that of another cavity, or `OUT`. inner, outer: (3,) build points of its two ends.
    width: mm, of the largest ball that passes; length: mm, through the wall. long: mm over the ends of a slit, the
    width of anything else; along: (3,) unit, its long side; is_square: whether its section is one."""

    name: str
    cavity: int
    beyond: int
    inner: FloatArray
    outer: FloatArray
    width: float
    length: float
    long: float = 0.0
    along: FloatArray = field(default_factory=lambda: np.zeros(3))
    is_square: bool = False

    @property
    def is_slit(self) -> bool:
        """Whether it is longer than wide by enough to tell."""
        return self.long > SLIT * self.width

    @property
    def section(self) -> Section:
        """In m."""
        if self.is_square:
            return rectangle(0.001 * self.width, 0.001 * self.width)
        return slot(0.001 * self.width, 0.001 * self.long) if self.is_slit else circle(0.001 * self.width)

    @property
    def hydraulic(self) -> float:
        """mm: 4 area / perimeter, the diameter of a round one."""
        if not self.is_slit:
            return self.width
        straight = self.long - self.width
        area, rim = 0.25 * np.pi * self.width**2 + straight * self.width, np.pi * self.width + 2.0 * straight
        return float(4.0 * area / rim)

    def rise(self, up: FloatArray) -> float:
        """mm that one end of a slit lies above the other, between the middles of its round ends."""
        return (self.long - self.width) * abs(float(self.along @ up)) if self.is_slit else 0.0


def mouths_of(findings: Findings, plan: Plan) -> tuple[Mouth, ...]:
    """Every mouth of every cavity, planned ones included; a passage is a mouth of both its cavities."""
    place = {cavity.id: k for k, cavity in enumerate(findings.cavities)}
    frame, found = findings.scene.frame, []

    def ends(inner: object, outer: object) -> tuple[FloatArray, FloatArray]:
        return frame.to_build(np.asarray(inner, dtype=float)), frame.to_build(np.asarray(outer, dtype=float))

    def of_vent(vent: Vent, cavity: str) -> None:
        if cavity in place:
            both, shape = ends(vent.exit_mm, vent.entry_mm), vent.outline
            way = _unit(frame.direction_to_build(np.asarray(shape.along, dtype=float)))
            long = shape.length_mm if shape.shape == "slot" else 0.0
            size = vent.diameter_mm, vent.wall_mm, max(long, vent.diameter_mm)
            found.append(Mouth(vent.id, place[cavity], OUT, *both, *size, way, shape.shape == "square"))

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


def _unit(way: FloatArray) -> FloatArray:
    return way / max(float(np.linalg.norm(way)), 1e-12)


def _apart(mouth: Mouth, points: FloatArray) -> FloatArray:
    """(k,) mm from points to the axis of a mouth."""
    along = mouth.outer - mouth.inner
    share = np.clip((points - mouth.inner) @ along / max(float(along @ along), 1e-12), 0.0, 1.0)
    return np.asarray(np.linalg.norm(points - mouth.inner - share[:, None] * along, axis=1))


def _measured(mouth: Mouth, rims: FloatArray, pitch: float) -> Mouth:
    """An opening with its long side, from the furthest points (k, m, 3) of the contacts that it is; they are middles of
    columns, which are `pitch` mm wide."""
    if not len(rims):
        return mouth
    across = square_to(_unit(mouth.outer - mouth.inner))
    middle, points = 0.5 * (mouth.outer + mouth.inner), (rims - rims[0, 0]) @ across.T
    own = _joined(points, (middle - rims[0, 0]) @ across.T, 2.0 * pitch)
    angle = np.linspace(0.0, np.pi, 2 * TURNS, endpoint=False)
    ways = np.stack([np.cos(angle), np.sin(angle)], axis=1) @ across
    # Half a column at each end.
    reach = np.ptp(points[own].reshape(-1, 2) @ across @ ways.T, axis=0) + pitch * np.abs(ways[:, :2]).sum(axis=1)
    narrow = int(np.argmin(reach))
    along, long = ways[narrow - TURNS], float(reach[narrow - TURNS])
    return replace(mouth, long=max(long, mouth.width), along=along)


def _joined(points: FloatArray, middle: FloatArray, gap: float) -> Flags:
    """(k,) bool: contacts that hang together with the one nearest to the middle; all of a mouth's are looked at, and
    another opening that is not listed may be among them. points: (k, m, 2); gap: mm between two at most."""
    low, high = points.min(axis=1), points.max(axis=1)
    own = np.zeros(len(points), dtype=bool)
    own[int(np.argmin(np.linalg.norm(0.5 * (low + high) - middle, axis=1)))] = True
    while True:
        a, b = low[own], high[own]
        near = ((low[:, None] <= b + gap) & (high[:, None] >= a - gap)).all(axis=2).any(axis=1)
        if (near == own).all():
            return own
        own = near


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
        measured = (
            m if m.name else _measured(m, cells.rim[mouth == n].astype(np.float64), cells.pitch)
            for n, m in enumerate(mouths)
        )
        return cls(cells, tuple(measured), mouth, cell)

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
