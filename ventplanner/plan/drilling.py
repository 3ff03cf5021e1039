"""Drilling: the vents of a plan taken out of a part, all of them in one cut for each piece of material."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import MeshError
from ventplanner.geometry.boolean import Cut, Cutter, Mesh
from ventplanner.geometry.groups import pieces_met
from ventplanner.geometry.precision import settle
from ventplanner.geometry.solid import Body, FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology, extract_faces, topology
from ventplanner.plan.model import Plan, Vent
from ventplanner.progress import Progress, silent

LAYER_MM = 0.0005
"""By how much the tool grows from one piece of material to the next: where pieces overlap, their holes would
otherwise share walls, which a reader would sew together."""

_Change = tuple[IntArray, IntArray, Cut]
"""One piece of material: its faces, the vents that may meet it, and what they change."""


@dataclass(frozen=True, eq=False)
class Drilled:
    """A part with its vents, and where everything in it comes from.

    solid: the result; bodies keep their names and order, and vertices and faces no vent touched are those of
    `original`. vent_of_face: (m,) int32, for each face of `solid` the index in `plan.drills` of the vent (or leg of
    a passage) whose wall it
    is, else -1. removed_mm3: the difference of the signed volumes; where pieces of material overlap, what was
    removed counts once for each of them.
    """

    solid: Solid
    plan: Plan
    original: Solid
    vent_of_face: IntArray
    removed_mm3: float

    def tool_faces(self, vent_id: str) -> IntArray:
        """The faces of `solid` that are the wall of this vent or leg of a passage, (k,) int32 ascending."""
        index = [drill.id for drill in self.plan.drills].index(vent_id)
        return np.flatnonzero(self.vent_of_face == index).astype(np.int32)


def tool_mesh(vent: Vent, layer: int = 0) -> Mesh:
    """The closed body that cuts a straight hole, `layer` steps of `LAYER_MM` larger all round."""
    return vent.bore.grown(layer * LAYER_MM).mesh()


def tool_boxes(vents: Sequence[Vent]) -> FloatArray:
    """(t, 2, 3) mm: bounds of the tools, with room for rounding and for the growth between pieces."""
    boxes = np.empty((len(vents), 2, 3))
    for box, vent in zip(boxes, vents, strict=True):
        corners = vent.bore.rings.reshape(-1, 3)
        box[0], box[1] = corners.min(axis=0) - 0.01, corners.max(axis=0) + 0.01
    return boxes


def drill(
    solid: Solid,
    plan: Plan,
    progress: Progress = silent,
    *,
    found: Topology | None = None,
    single_precision: bool | None = None,
) -> Drilled:
    """Cut all vents and passages of the plan out of the part. Vents may meet, overlap, or go deeper than they should.

    found: the topology of `solid` if it is known. single_precision: the result will be stored with float32
    coordinates (default: as the source does); new vertices are then placed on such coordinates, so that the written
    file reads back as the very same mesh.

    Raises MeshError when a piece that a vent meets is open or wound inconsistently, DrillError when the cut fails.
    """
    single = solid.source.single_precision if single_precision is None else single_precision
    drills = plan.drills
    if not drills:
        return Drilled(solid, plan, solid, np.full(len(solid.faces), -1, dtype=np.int32), 0.0)
    progress("preparing the cut", 0.0)
    found = topology(solid) if found is None else found
    boxes = tool_boxes(drills)
    pieces = pieces_met(solid, found, boxes)
    changes: list[_Change] = []
    for layer, faces in enumerate(pieces):
        _check_closed(solid, found, faces)
        vents = _vents_at(solid, faces, boxes)
        progress("drilling", layer / len(pieces))
        cutter = Cutter(solid.vertices, solid.faces[faces])
        changes.append((faces, vents, cutter.cut([tool_mesh(drills[v], layer) for v in vents])))
    if not changes:
        return Drilled(solid, plan, solid, np.full(len(solid.faces), -1, dtype=np.int32), 0.0)
    result, vent_of_face, removed = _assemble(solid, changes, single)
    progress("drilling", 1.0)
    return Drilled(result, plan, solid, vent_of_face, removed)


def _check_closed(solid: Solid, found: Topology, faces: IntArray) -> None:
    """Raise MeshError with count and place when the piece has edges or faces that cannot be cut."""
    doubled = len(found.duplicate_faces) or len(found.opposed_faces)
    if not (len(found.open_edges) or len(found.flipped_edges) or doubled) and found.is_oriented:
        return
    piece = extract_faces(solid, faces)
    own = topology(piece)
    wound = "between faces that are wound against each other"
    damage: tuple[tuple[IntArray, str, str], ...] = (
        (own.open_edges, "edge is open", "edges are open"),
        (own.flipped_edges, f"edge is {wound}", f"edges are {wound}"),
        (piece.faces[own.duplicate_faces], "face repeats another", "faces repeat others"),
        (piece.faces[own.opposed_faces], "face lies back to back on another", "faces lie back to back on others"),
    )
    for damaged, one, many in damage:
        if len(damaged):
            what = one if len(damaged) == 1 else many
            x, y, z = (float(c) for c in piece.vertices[damaged[0]].mean(axis=0))
            raise MeshError(
                f"The part cannot be drilled: {len(damaged)} {what}, the first at ({x:.4g}, {y:.4g}, {z:.4g}) mm.",
                "Mend the part (ventplanner mend), or export it again from its source.",
                (x, y, z),
            )


def _vents_at(solid: Solid, faces: IntArray, boxes: FloatArray) -> IntArray:
    """The vents whose bounds meet those of the piece."""
    points = solid.vertices if len(faces) == len(solid.faces) else solid.vertices[np.unique(solid.faces[faces])]
    low, high = points.min(axis=0), points.max(axis=0)
    meets = ((boxes[:, 0] <= high) & (boxes[:, 1] >= low)).all(axis=1)
    return np.flatnonzero(meets).astype(np.int32)


@dataclass(frozen=True, eq=False)
class _NewFaces:
    """All new faces of a cut part; indices from the number of its vertices on name `vertices`."""

    vertices: FloatArray
    faces: IntArray
    vent: IntArray
    body: IntArray


def _gather(solid: Solid, changes: Sequence[_Change]) -> tuple[NDArray[np.bool_], _NewFaces]:
    """(m,) bool of the faces that stay, and all new ones with their vents (-1: none) and bodies."""
    n = total = len(solid.vertices)
    stops = np.array([body.stop for body in solid.bodies])
    kept = np.ones(len(solid.faces), dtype=bool)
    parts = []
    for piece, vents, cut in changes:
        kept[piece[~cut.kept]] = False
        shifted = np.where(cut.new_faces >= n, cut.new_faces + (total - n), cut.new_faces)
        total += len(cut.new_vertices)
        of_tool = cut.origin < 0
        vent = np.where(of_tool, vents[np.where(of_tool, -1 - cut.origin, 0)], -1)
        # A piece lies in one body (an inward skin is matched to an outward one of its own); so do its walls.
        source = np.where(of_tool, piece[0], piece[np.maximum(cut.origin, 0)])
        parts.append((cut.new_vertices, shifted, vent, np.searchsorted(stops, source, side="right")))
    vertices, faces, vent, body = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    return kept, _NewFaces(vertices, faces.astype(np.int32), vent.astype(np.int32), body.astype(np.int32))


def _assemble(solid: Solid, changes: Sequence[_Change], single: bool) -> tuple[Solid, IntArray, float]:
    """The part with all changes made: the solid, the vent of each face, and the volume that went."""
    kept, new = _gather(solid, changes)
    faces = np.vstack([solid.faces[kept], new.faces])
    vertices, faces, first_new = _without_unused(solid, faces, new.vertices)
    if single and not solid.source.single_precision:
        first_new = 0
    vertices, faces, stays = settle(vertices, faces, first_new, solid.source.mm_per_unit, single)
    n_kept = int(np.count_nonzero(stays[: np.count_nonzero(kept)]))
    removed = _volume(solid.vertices, solid.faces[~kept]) - _volume(vertices, faces[n_kept:])
    vent = np.concatenate([np.full(n_kept, -1, dtype=np.int32), new.vent[stays[len(stays) - len(new.vent) :]]])
    bodies: tuple[Body, ...] = (Body(solid.bodies[0].name, 0, len(faces)),)
    if len(solid.bodies) > 1:
        stops = np.array([body.stop for body in solid.bodies])
        body_of = np.searchsorted(stops, np.flatnonzero(kept), side="right")
        body_of = np.concatenate([body_of, new.body])[stays]
        order = np.argsort(body_of, kind="stable")
        faces, vent = faces[order], vent[order]
        ends = np.cumsum(np.bincount(body_of, minlength=len(stops))).tolist()
        starts = [0, *ends[:-1]]
        bodies = tuple(Body(b.name, i, j) for b, i, j in zip(solid.bodies, starts, ends, strict=True))
    source = replace(solid.source, single_precision=single)
    return Solid(vertices, faces, bodies, source), vent, removed


def _without_unused(solid: Solid, faces: IntArray, more: FloatArray) -> tuple[FloatArray, IntArray, int]:
    """Vertices of the part and `more` that `faces` use, the faces with their new indices, and where `more` starts."""
    used = np.zeros(len(solid.vertices) + len(more), dtype=bool)
    used[faces] = True
    old = used[: len(solid.vertices)]
    vertices = np.vstack([solid.vertices[old], more[used[len(solid.vertices) :]]])
    return vertices, (np.cumsum(used, dtype=np.int32) - 1)[faces], int(np.count_nonzero(old))


def _volume(vertices: FloatArray, faces: IntArray) -> float:
    """What the faces add to the signed volume, about the origin."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)
