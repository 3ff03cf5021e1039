"""The ground that flow is computed on: the rooms of an analysed part, their throats, and their rims. Made once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ventplanner.analysis.cavities import Cavity, FoundCup
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.rooms import Rooms, find_rooms
from ventplanner.analysis.throats import Throat, find_throats
from ventplanner.geometry.solid import FloatArray
from ventplanner.progress import Progress, silent


@dataclass(frozen=True)
class Hollow:
    """A room of which the flow is told, between two build heights in mm. cavity, cup: what it belongs to in the
    findings; None where they know none (a hollow that is open and yet narrow enough to suck)."""

    room: int
    cavity: str | None
    cup: str | None
    within: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Ground:
    """findings: of the part. rooms, throats: its hollows and what joins them. perimeter: (n + 1, nz) mm, rim of each
    room in each layer of voxels. rim: (nz,) mm, how wide the rims are. thinnest: mm, thinnest wall."""

    findings: Findings
    rooms: Rooms
    throats: tuple[Throat, ...]
    perimeter: FloatArray
    rim: FloatArray
    thinnest: float

    @cached_property
    def room_of_cup(self) -> dict[str, int]:
        """The room that each cup starts in, by the cup's name; 0 where it starts in none."""
        up = np.array([0.0, 0.0, 1.0])
        hair = np.array([0.0, 0.0, 1e-3])
        return {c.id: self.rooms.room_at(c.cup.start + hair, up) for _, c in self.cups}

    @property
    def cups(self) -> list[tuple[Cavity, FoundCup]]:
        """All cups with their cavities."""
        return [(cavity, cup) for cavity in self.findings.cavities for cup in cavity.cups]

    @cached_property
    def cavity_of_room(self) -> dict[int, str]:
        """The cavity that each room lies in, by number, for those that lie in one."""
        named = {room: c.id for c, cup in reversed(self.cups) if (room := self.room_of_cup[cup.id])}
        chambers = {c.key: c.id for c in self.findings.cavities if c.kind == "chamber"}
        for room in range(1, self.rooms.count + 1):
            if room not in named:
                (chamber,) = self.findings.chambers.voxels.chamber_at(self.rooms.widest_at[room][None])
                if int(chamber) in chambers:
                    named[room] = chambers[int(chamber)]
        return named

    @cached_property
    def hollows(self) -> tuple[Hollow, ...]:
        """All cups, each until it joins an older one; then rooms of cavities without a cup, and other deep ones."""
        found, rooms, options = [], self.rooms, self.findings.options
        for cavity, cup in self.cups:
            until = np.inf if cup.cup.joins_height is None else cup.cup.joins_height
            within = (cup.cup.from_height, until)
            found.append(Hollow(self.room_of_cup[cup.id], cavity.id, cup.id, within))
        told = {hollow.room for hollow in found}
        volume = rooms.area.sum(axis=1) * rooms.voxels.size
        for room in range(1, rooms.count + 1):
            if room in told:
                continue
            cavity_id = self.cavity_of_room.get(room)
            deep = min(rooms.ends[room], self.findings.scene.height) - rooms.begins[room] > options.late_mm
            if cavity_id or (deep and volume[room] > options.late_mm3):
                found.append(Hollow(room, cavity_id, None, (-np.inf, np.inf)))
        return tuple(found)


def ground(findings: Findings, progress: Progress = silent) -> Ground:
    """Rooms and throats of an analysed part: about as long as the analysis itself."""
    scene, options = findings.scene, findings.options
    progress("Finding rooms", 0.0)
    rooms = find_rooms(
        findings.cups, scene.height, scene.resolution.thinnest_wall_mm,
        options.ignore_below_mm3, options.ignore_under_mm,
    )  # fmt: skip
    progress("Measuring throats", 0.6)
    throats = find_throats(rooms, scene.ray_target)
    perimeter = _perimeter(rooms)
    columns = scene.runs.grid.n_columns * scene.runs.pixel_area
    rim = _rim(rooms, perimeter, columns)
    thinnest = scene.resolution.thinnest_wall_mm
    progress("Measuring throats", 1.0)
    return Ground(findings, rooms, throats, perimeter, rim, thinnest or float(rim.min(initial=rooms.voxels.size)))


def _rim(rooms: Rooms, perimeter: FloatArray, columns: float) -> FloatArray:
    """(nz,) mm: material in each layer by the length of the rims it makes; at least a voxel. columns: mm2 of them all.

    A layer of voxels that a floor runs through has more material than rims: the next one counts there.
    """
    around: FloatArray = np.maximum(perimeter[1:].sum(axis=0), 1e-9)
    material = np.maximum(columns - rooms.area.sum(axis=0), 0.0)
    # No rim is wider than the part; in a layer where no room shows its rim nothing else is known of it.
    wide: FloatArray = np.clip(material / around, rooms.voxels.size, np.sqrt(columns))
    above: FloatArray = np.append(wide[1:], wide[-1])
    narrower: FloatArray = np.minimum(wide, above)
    return narrower


def _perimeter(rooms: Rooms) -> FloatArray:
    """(n + 1, nz) mm: rim of each room in each layer of voxels, towards what is not free.

    Crofton's formula with four directions (Legland, Kieu & Devaux 2007, Image Anal. Stereol. 26, 83): a round rim comes
    out right, a straight one at most 6 % short.
    """
    room = rooms.voxels.chamber
    nz = room.shape[2]
    met = np.zeros((rooms.count + 1) * nz)
    layers = np.broadcast_to(np.arange(nz), room.shape)
    whole, but_last, but_first = slice(None), slice(None, -1), slice(1, None)
    pairs = (
        (but_last, whole, but_first, whole, 1.0),
        (whole, but_last, whole, but_first, 1.0),
        (but_last, but_last, but_first, but_first, np.sqrt(0.5)),
        (but_last, but_first, but_first, but_last, np.sqrt(0.5)),
    )
    for i0, j0, i1, j1, spacing in pairs:
        first, second, layer = room[i0, j0], room[i1, j1], layers[i0, j0]
        for one, other in ((first, second), (second, first)):
            edge = (one > 0) & (other < 0)
            met += np.bincount(one[edge] * nz + layer[edge], minlength=len(met)) * spacing
    # pi/2 times the mean over the four directions of the length met.
    return np.asarray(met.reshape(rooms.count + 1, nz) * rooms.voxels.size * np.pi / 8.0)
