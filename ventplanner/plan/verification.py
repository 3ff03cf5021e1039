"""Verification of a drilled part's shape: is it what the plan asked for, and is everything else as it was?

Nothing here relies on the boolean library: edges are counted, coordinates compared, and what each vent must have
changed (volume, Euler number) is foretold by rays through the part as it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.boolean import faces_near
from ventplanner.geometry.bore import Bore
from ventplanner.geometry.groups import pieces_met
from ventplanner.geometry.plug import reach, volume_taken
from ventplanner.geometry.plug_euler import euler_taken
from ventplanner.geometry.precision import as_in_file
from ventplanner.geometry.solid import FloatArray, Solid
from ventplanner.geometry.topology import Topology, topology
from ventplanner.geometry.weld import weld_points
from ventplanner.plan.drilling import LAYER_MM, tool_boxes
from ventplanner.plan.model import Plan

NEAR_MM = 0.05
"""Faces whose bounds come this near to a tool's bounds may have been changed by it."""

VOLUME_SHARE = 0.003
VOLUME_MM3 = 0.005
"""The removed volume may be off by this share, by this much, and by what the rays themselves are unsure of."""


def compare(original: Solid, result: Solid, plan: Plan, found: Topology | None = None) -> tuple[str, ...]:
    """Differences between a drilled part and what the plan asked for, as sentences without a full stop; none: verified.

    result: as read from its file. found: the topology of `original`, if it is known. Checked: every edge has two
    faces that run it in opposite directions (where the original has other edges: no more of them than before); faces
    away from the vents are the same, coordinate by coordinate, in the precision of the file; every vertex that is new
    lies on the wall of a vent and every one that is gone lay inside one; no vent is missing; the removed volume and
    the change of the Euler number are those foretold for the vents. (Where the wall of a vent lies in faces of the
    part, as when one hole is drilled twice, the Euler number cannot be foretold and is not compared.)
    """
    before = topology(original) if found is None else found
    after = topology(result)
    bores = [vent.bore for vent in plan.drills]
    foretold = _Foretold.of(original, before, plan, bores)
    differences = [*_edges(before, after), *_elsewhere(original, result, plan, foretold)]
    differences += _volume_and_euler(original, before, result, after, foretold)
    return tuple(differences)


@dataclass(frozen=True)
class _Foretold:
    """What the vents must change: mm3 for each vent that the ones before it leave, how unsure that is in all, the
    change of the Euler number (None: cannot be told), and how many pieces of material they meet.
    """

    bores: Sequence[Bore]
    volumes: FloatArray
    unsure: float
    euler: int | None
    pieces: int

    @classmethod
    def of(cls, original: Solid, before: Topology, plan: Plan, bores: Sequence[Bore]) -> _Foretold:
        volumes, unsure, euler = np.zeros(len(bores)), 0.0, 0
        sure = True
        pieces = pieces_met(original, before, tool_boxes(plan.drills)) if bores else ()
        for faces in pieces:
            piece = original.faces[faces]
            parts = [reach(original.vertices, piece, bore) for bore in bores]
            for k, part in enumerate(parts):
                taken, error = volume_taken(part, bores[:k])
                volumes[k] += taken
                unsure += error
            plugs = euler_taken(parts)
            sure = sure and plugs is not None
            euler -= 2 * (plugs or 0)
        return cls(bores, volumes, unsure, euler if sure else None, len(pieces))


def _edges(before: Topology, after: Topology) -> list[str]:
    texts = []
    for what, name in (
        ("edges with one face only", "open_edges"),
        ("edges with more than two faces", "nonmanifold_edges"),
        ("edges whose faces are wound against each other", "flipped_edges"),
        ("duplicate faces", "duplicate_faces"),
        ("faces that name a vertex twice", "degenerate_faces"),
    ):
        old, new = len(getattr(before, name)), len(getattr(after, name))
        if new > old:
            texts.append(f"{new} {what}" + (f" ({old} before)" if old else ""))
    return texts


def _elsewhere(original: Solid, result: Solid, plan: Plan, foretold: _Foretold) -> list[str]:
    """Faces that no vent may have touched: the same set before and after. Other vertices: where vents put them."""
    source = result.source
    old_points = as_in_file(original.vertices, source.mm_per_unit, source.single_precision)
    new_points = as_in_file(result.vertices, source.mm_per_unit, source.single_precision)
    distinct, index = weld_points(np.vstack((old_points, new_points)))
    boxes = tool_boxes(plan.drills) + np.array([[-NEAR_MM], [NEAR_MM]]) if plan.drills else np.empty((0, 2, 3))
    names, used = [], []
    for faces in (index[original.faces], index[len(old_points) + result.faces]):
        whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
        away = ~faces_near(distinct, faces, boxes) if len(boxes) else np.ones(len(faces), dtype=bool)
        names.append(np.sort(_names(faces[whole & away])))
        used.append(np.zeros(len(distinct), dtype=bool))
        used[-1][faces[whole]] = True
    texts = []
    if not np.array_equal(names[0], names[1]):
        gone, come = (int((~np.isin(a, b)).sum()) for a, b in (names, names[::-1]))
        texts.append(f"away from the vents {gone} faces are gone and {come} are new")
    was, now = used
    reach_of_digits = float(np.abs(distinct).max()) * (8e-7 if source.single_precision else 1e-12)
    slack = 1e-6 + reach_of_digits + LAYER_MM * foretold.pieces
    return texts + _vertices(distinct[was & ~now], distinct[now & ~was], plan, foretold, slack)


def _vertices(gone: FloatArray, come: FloatArray, plan: Plan, foretold: _Foretold, slack: float) -> list[str]:
    """Vertices that are gone must have been inside a vent, new ones must be on the wall of one, and each vent must
    have some unless it meets others.
    """
    inside = np.zeros(len(gone), dtype=bool)
    walls = np.zeros((len(foretold.bores), len(come)), dtype=bool)
    for bore, wall in zip(foretold.bores, walls, strict=True):
        inside |= bore.outside(gone) <= slack
        wall[:] = np.abs(bore.outside(come)) <= slack
    on_wall = walls.any(axis=0)
    texts = []
    if not inside.all():
        texts.append(f"{_counted(gone[~inside])} outside of all vents are gone")
    if not on_wall.all():
        texts.append(f"{_counted(come[~on_wall])} are new and on no vent's wall")
    boxes = tool_boxes(plan.drills)
    for k, vent in enumerate(plan.drills):
        # One that meets another may have lost all its wall to it; the volume and the Euler number tell of that one.
        meets = ((boxes[:, 0] <= boxes[k, 1]) & (boxes[:, 1] >= boxes[k, 0])).all(axis=1).sum() > 1
        if foretold.volumes[k] > VOLUME_MM3 and not walls[k].any() and not meets:
            texts.append(f"vent {vent.id} is missing")
    return texts


def _counted(points: FloatArray) -> str:
    first = ", ".join(f"{x:.4g}" for x in points[0])
    return f"{len(points)} vertices (the first at {first} mm)"


def _names(faces: NDArray[np.integer]) -> NDArray[np.uint64]:
    """A 64-bit name for each face that does not depend on which corner comes first, but on the winding."""
    first = np.argmin(faces, axis=1)
    rows = np.arange(len(faces))
    name = np.zeros(len(faces), dtype=np.uint64)
    for k in range(3):
        name = (name ^ faces[rows, (first + k) % 3].astype(np.uint64)) * np.uint64(0x9E3779B97F4A7C15)
        name ^= name >> np.uint64(29)
    return name


def _volume_and_euler(
    original: Solid, before: Topology, result: Solid, after: Topology, foretold: _Foretold
) -> list[str]:
    """What the vents must have changed against what has changed."""
    texts = []
    volume = float(foretold.volumes.sum())
    removed = _signed_volume(original, before) - _signed_volume(result, after)
    allowed = VOLUME_SHARE * volume + VOLUME_MM3 + foretold.unsure + _rounding(result, after)
    if abs(removed - volume) > allowed:
        texts.append(f"{removed:.2f} mm3 were removed instead of {volume:.2f}")
    change = after.euler - before.euler
    if foretold.euler is not None and change != foretold.euler:
        texts.append(f"the Euler number changed by {change} instead of {foretold.euler}")
    if foretold.bores and volume <= 0.0:
        texts.append("the vents meet no material")
    return texts


def _signed_volume(solid: Solid, found: Topology) -> float:
    return float(found.volume_of_skin.sum()) if found.n_skins else solid.volume


def _rounding(result: Solid, after: Topology) -> float:
    """mm3 by which single-precision coordinates may change the volume: the area times half a unit in the last place,
    as if a thousandth of all vertices were rounded the same way (roundings of single vertices cancel)."""
    if not result.source.single_precision:
        return 0.0
    unit = float(np.spacing(np.float32(np.abs(result.bounds).max())))
    return float(after.area_of_skin.sum()) * 0.5 * unit * 1e-3
