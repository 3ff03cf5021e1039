"""The part with its hollows: every face that came stays the very one, but where the hollow is open to the plate."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ventplanner.errors import WorkError
from ventplanner.geometry.boolean import Cutter
from ventplanner.geometry.pose import BuildFrame
from ventplanner.geometry.precision import settle
from ventplanner.geometry.solid import Body, FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology, topology
from ventplanner.hollowing.skins import Skins

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Joined:
    """solid: the part with its hollows. new: (m,) bool, faces that did not come with it. hollow_mm3: of each hollow,
    largest first; of one that is open what is in the part."""

    solid: Solid
    new: Flags
    hollow_mm3: tuple[float, ...]


def joined(part: Solid, found: Topology, frame: BuildFrame, inner: Skins) -> Joined:
    """Put the skins of the hollows (build axes) into the part. found: topology of the part.

    Those that go below the part are cut out of it. Raises MeshError for an open part that is to be cut, WorkError for a
    result that is not closed.
    """
    through = np.zeros(len(inner.volumes), dtype=bool)
    through[inner.skin[inner.vertices[inner.faces[:, 0], 2] < 0.0]] = True
    shut, kept = inner.chosen(~through), np.ones(len(part.faces), dtype=bool)
    n = len(part.vertices)
    points, faces = [part.vertices], []
    if through.any():
        tool = inner.chosen(through)
        cut = Cutter(part.vertices, part.faces).cut([(frame.to_file(tool.vertices), tool.faces[:, ::-1])])
        kept = cut.kept
        points.append(cut.new_vertices)
        faces.append(cut.new_faces)
    faces.append((shut.faces + sum(map(len, points))).astype(np.int32))
    points.append(frame.to_file(shut.vertices))
    new_faces = np.concatenate(faces)
    whole = np.concatenate((part.faces[kept], new_faces))
    # At the precision of every file, so that no two vertices are one when it is read.
    vertices, whole, stays = settle(np.concatenate(points), whole, n, part.source.mm_per_unit, single=True)
    new = (np.arange(len(stays)) >= np.count_nonzero(kept))[stays]
    solid, new = _in_bodies(part, kept, vertices, whole, new)
    _check(found, solid, new, bool(through.any()))
    volumes = np.sort(shut.volumes[shut.volumes > 0.0])[::-1].tolist()
    islands = float(shut.volumes[shut.volumes <= 0.0].sum())
    if through.any():
        opened = part.volume - solid.volume - sum(volumes) - islands
        volumes = sorted((*volumes, opened), reverse=True)
    volumes[0] += islands  # material in the hollow
    return Joined(solid, new, tuple(volumes))


def _in_bodies(part: Solid, kept: Flags, vertices: FloatArray, faces: IntArray, new: Flags) -> tuple[Solid, Flags]:
    """Faces that came first, then the new ones; with several bodies each hollow with the body that it is nearest to."""
    if len(part.bodies) == 1:
        return part.with_mesh(vertices, faces, (Body(part.bodies[0].name, 0, len(faces)),)), new
    stops = np.array([body.stop for body in part.bodies])
    body_of = np.searchsorted(stops, np.arange(len(part.faces)), side="right")
    at_vertex = np.zeros(len(part.vertices), dtype=np.int64)
    at_vertex[part.faces] = body_of[:, None]
    made = Skins.of(vertices, faces[new])
    _, first, which = np.unique(made.skin, return_index=True, return_inverse=True)
    _, near = cKDTree(part.vertices).query(vertices[made.faces[first, 0]])
    owner = at_vertex[np.asarray(near)][which]
    body_of = np.concatenate((body_of[kept], owner))
    order = np.argsort(body_of, kind="stable")
    ends = np.cumsum(np.bincount(body_of, minlength=len(stops))).tolist()
    named = zip(part.bodies, [0, *ends[:-1]], ends, strict=True)
    return part.with_mesh(vertices, faces[order], tuple(Body(b.name, i, j) for b, i, j in named)), new[order]


def _check(before: Topology, solid: Solid, new: Flags, through: bool) -> None:
    """Every edge of what is new has two faces; else WorkError."""
    # A hollow that is open shares the edges of its rim with the part.
    looked_at = solid if through else replace(solid, faces=solid.faces[new], bodies=())
    after = topology(looked_at)
    if not (after.is_closed and after.is_oriented) and (before.is_closed or not through):
        raise WorkError("The hollow's skin is not closed.", "Give another --grid; please report the part.")
