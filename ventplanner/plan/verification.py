"""Verification of a drilled part's shape: is it what the plan asked for, and is everything else as it was?

Nothing here relies on the boolean library: edges are counted, coordinates compared, and what each vent must have
changed (volume, Euler number) is foretold by rays through the part as it was.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.boolean import faces_near
from ventplanner.geometry.groups import pieces_met
from ventplanner.geometry.plug import Bore, plug
from ventplanner.geometry.precision import as_in_file
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import Topology, topology
from ventplanner.geometry.weld import weld_points
from ventplanner.plan.drilling import tool_boxes
from ventplanner.plan.model import Plan

NEAR_MM = 0.05
"""Faces whose bounds come this near to a tool's bounds may have been changed by it."""

VOLUME_SHARE = 0.005
VOLUME_MM3 = 0.02
"""The removed volume may be off by this share, by this much, and by what the rays themselves are unsure of."""


def compare(original: Solid, result: Solid, plan: Plan, found: Topology | None = None) -> tuple[str, ...]:
    """Differences between a drilled part and what the plan asked for, as sentences without a full stop; none: verified.

    result: as read from its file. found: the topology of `original`, if it is known. Checked: every edge has two
    faces that run it in opposite directions (where the original has other edges: no more of them than before); faces
    away from the vents are the same, coordinate by coordinate, in the precision of the file; the removed volume and
    the change of the Euler number are those foretold for each vent.
    """
    before = topology(original) if found is None else found
    after = topology(result)
    differences = [*_edges(before, after), *_elsewhere(original, result, plan)]
    if plan.vents:
        differences += _foretold(original, before, result, after, plan)
    elif before.euler != after.euler:
        differences.append(f"the Euler number changed from {before.euler} to {after.euler} without any vent")
    return tuple(differences)


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


def _elsewhere(original: Solid, result: Solid, plan: Plan) -> list[str]:
    """Faces that no vent may have touched: the same set before and after, as triples of coordinates."""
    source = result.source
    old_points = as_in_file(original.vertices, source.mm_per_unit, source.single_precision)
    new_points = as_in_file(result.vertices, source.mm_per_unit, source.single_precision)
    distinct, index = weld_points(np.vstack((old_points, new_points)))
    boxes = tool_boxes(plan.vents) + np.array([[-NEAR_MM], [NEAR_MM]]) if plan.vents else np.empty((0, 2, 3))
    sets = []
    for faces in (index[original.faces], index[len(old_points) + result.faces]):
        whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
        away = ~faces_near(distinct, faces, boxes) if len(boxes) else np.ones(len(faces), dtype=bool)
        sets.append(np.sort(_names(faces[whole & away])))
    if np.array_equal(sets[0], sets[1]):
        return []
    gone, come = (int((~np.isin(a, b)).sum()) for a, b in (sets, sets[::-1]))
    return [f"away from the vents {gone} faces are gone and {come} are new"]


def _names(faces: NDArray[np.integer]) -> NDArray[np.uint64]:
    """A 64-bit name for each face that does not depend on which corner comes first, but on the winding."""
    first = np.argmin(faces, axis=1)
    rows = np.arange(len(faces))
    name = np.zeros(len(faces), dtype=np.uint64)
    for k in range(3):
        name = (name ^ faces[rows, (first + k) % 3].astype(np.uint64)) * np.uint64(0x9E3779B97F4A7C15)
        name ^= name >> np.uint64(29)
    return name


def _foretold(original: Solid, before: Topology, result: Solid, after: Topology, plan: Plan) -> list[str]:
    """What the vents must have changed, piece of material by piece, against what has changed."""
    bores = [Bore(vent.start_mm, vent.end_mm, vent.radius_mm) for vent in plan.vents]
    volume = unsure = 0.0
    euler = 0
    for faces in pieces_met(original, before, tool_boxes(plan.vents)):
        for k, bore in enumerate(bores):
            taken = plug(original.vertices, original.faces[faces], bore, bores[:k])
            volume += taken.volume_mm3
            unsure += taken.error_mm3
            euler -= 2 * taken.euler
    texts = []
    removed = _signed_volume(original, before) - _signed_volume(result, after)
    if abs(removed - volume) > VOLUME_SHARE * volume + VOLUME_MM3 + 3.0 * unsure + _rounding(result, after):
        texts.append(f"{removed:.2f} mm3 were removed instead of {volume:.2f}")
    if after.euler - before.euler != euler:
        texts.append(f"the Euler number changed by {after.euler - before.euler} instead of {euler}")
    if volume <= 0.0:
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
