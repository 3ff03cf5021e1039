"""Skins that go through themselves: what they enclose is drawn anew, near the places alone where that is enough."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.geometry.boolean import with_patches
from ventplanner.geometry.solid import FloatArray, IntArray, box_of
from ventplanner.geometry.topology import Topology
from ventplanner.mend_parameters import UNTANGLE
from ventplanner.mending.drawing import sound
from ventplanner.mending.faces import bounds_of
from ventplanner.mending.model import LongArray, Loss, Mesh, Record, corners_of, record
from ventplanner.mending.redrawing import Redrawn, redrawn
from ventplanner.mending.sheets import Sheets

MOST_BOXES = 40

MOST_OF_ALL = 0.2
"""A skin is drawn anew as a whole when the boxes round what is wrong fill more than this share of its own box."""

_PAD_EDGES = 2.0
_APART = 1.2345e-3
"""Boxes are larger by this share of their margin, so that none of their sides lies in a face of the part."""


@dataclass(frozen=True, eq=False)
class _New:
    """A skin in place of another one: outward, with what it differs by."""

    vertices: FloatArray
    faces: IntArray
    loss: Loss
    is_whole: bool


def untangle(mesh: Mesh, found: Topology, pairs: LongArray) -> tuple[Mesh, tuple[Record, ...]]:
    """Draw skins anew that go through themselves, each by itself: the material or void that it winds around.

    pairs: (k, 2) faces that go through each other. Where a skin overlaps itself it encloses once, and where it is
    turned inside out nothing (swallowtails of offset surfaces are that). All else of the part stays to the last bit,
    and so does the skin itself away from such places, unless they are everywhere. The loss is in the records. A skin
    that is left with nothing inside, or that this does not better, stays as it is.
    """
    skins = found.skin_of_face[pairs]
    own = pairs[skins[:, 0] == skins[:, 1]]
    kept = np.ones(len(mesh.faces), bool)
    told: dict[bool, list[tuple[FloatArray, Loss]]] = {False: [], True: []}
    more: list[tuple[_New, int, bool]] = []
    for skin in np.unique(found.skin_of_face[own[:, 0]]).tolist():
        rows = found.faces_of_skin(skin)
        outward = bool(found.volume_of_skin[skin] > 0)
        mine = own[found.skin_of_face[own[:, 0]] == skin]
        used, index = np.unique(mesh.faces[rows], return_inverse=True)
        faces = index.reshape(-1, 3).astype(np.int32)
        faces = faces if outward else np.ascontiguousarray(faces[:, ::-1])
        new = _new(mesh.vertices[used], faces, np.searchsorted(rows, mine))
        if new is None:
            continue
        kept[rows] = False
        more.append((new, int(mesh.body[rows[0]]), outward))
        told[new.is_whole].append((corners_of(mesh, mine[:1, 0]), new.loss if outward else _of_void(new.loss)))
    mesh = mesh.keeping(kept) if more else mesh
    for new, body, outward in more:
        faces = new.faces if outward else new.faces[:, ::-1]
        mesh = mesh.adding(new.vertices, faces + len(mesh.vertices), np.full(len(faces), body, np.int32))
    return mesh, (
        *_record("skins drawn anew near places where they went through themselves", told[False]),
        *_record("skins that went through themselves drawn anew", told[True]),
    )


def _record(what: str, told: list[tuple[FloatArray, Loss]]) -> tuple[Record, ...]:
    if not told:
        return ()
    loss = told[0][1]
    for _, other in told[1:]:
        loss = loss.with_(other)
    return record(UNTANGLE, what, np.vstack([place for place, _ in told]), loss)


def _new(vertices: FloatArray, faces: IntArray, pairs: LongArray) -> _New | None:
    """In place of an outward skin."""
    sheets = Sheets.of(vertices, faces, pairs)
    boxes = _boxes(vertices, faces, sheets, pairs)
    whole = box_of(vertices)
    shares = [np.prod(box[1] - box[0]) / np.prod(whole[1] - whole[0]) for box in boxes]
    if len(boxes) <= MOST_BOXES and sum(shares) <= MOST_OF_ALL:
        patched = _patched(vertices, faces, sheets, boxes)
        if patched is not None:
            return patched
    drawn = redrawn(vertices, faces, sheets, whole)
    ready = None if drawn is None else sound(drawn.vertices, drawn.faces, vertices)
    return None if drawn is None or ready is None else _New(*ready, _loss(drawn), True)


def _patched(vertices: FloatArray, faces: IntArray, sheets: Sheets, boxes: list[FloatArray]) -> _New | None:
    """The skin with what is in boxes drawn anew; None where that does not give a sound one."""
    drawn = [redrawn(vertices, faces, sheets, box) for box in boxes]
    nothing = (np.empty((0, 3)), np.empty((0, 3), np.int32))
    patches = [nothing if one is None else (one.vertices, one.faces) for one in drawn]
    made = with_patches((vertices, faces), boxes, patches)
    ready = None if made is None else sound(*made, vertices)
    if ready is None:
        return None
    losses = [_loss(one) for one in drawn if one is not None]
    loss = losses[0]
    for other in losses[1:]:
        loss = loss.with_(other)
    return _New(*ready, loss, False)


def _loss(drawn: Redrawn) -> Loss:
    return Loss(drawn.off_mm, drawn.volume_mm3)


def _of_void(loss: Loss) -> Loss:
    """What void gains is lost of the part."""
    return loss if loss.volume_mm3 is None else replace(loss, volume_mm3=-loss.volume_mm3)


def _boxes(vertices: FloatArray, faces: IntArray, sheets: Sheets, pairs: LongArray) -> list[FloatArray]:
    """Boxes round all faces that cross others or bound nothing, with a margin of some edges, apart from each other."""
    bad = np.flatnonzero(sheets.bad)
    place = np.full(len(faces), -1, np.int64)
    place[bad] = np.arange(len(bad))
    n = len(bad) + len(vertices)
    links = np.vstack(
        [place[pairs], *(np.stack([np.arange(len(bad)), len(bad) + faces[bad, k]], axis=1) for k in range(3))]
    )
    graph = coo_array((np.ones(len(links), np.int8), (links[:, 0], links[:, 1])), shape=(n, n))
    _, label = connected_components(graph, directed=False)
    names, group = np.unique(label[: len(bad)], return_inverse=True)
    low, high = bounds_of(group.astype(np.int32), vertices[faces[bad]].reshape(-1, 3), len(names), 3)
    edge = float(np.median(np.linalg.norm(vertices[faces[:, 0]] - vertices[faces[:, 1]], axis=1)))
    pad = _PAD_EDGES * edge * (1.0 + _APART * np.array([1.0, 2.7, -1.9]))
    boxes = list(np.stack([low - pad, high + pad], axis=1))
    return _apart(boxes)


def _apart(boxes: list[FloatArray]) -> list[FloatArray]:
    """Boxes that touch others made one with them, until none do."""
    while True:
        low, high = np.array([b[0] for b in boxes]), np.array([b[1] for b in boxes])
        meet = np.asarray(((low[:, None] <= high[None]) & (high[:, None] >= low[None])).all(axis=2))
        n, group = connected_components(coo_array(meet.astype(np.int8)), directed=False)
        if n == len(boxes):
            return boxes
        boxes = [np.array([low[group == g].min(axis=0), high[group == g].max(axis=0)]) for g in range(n)]
