"""Which faces bound which cavity: told once for all of them, by the free space just before each face."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.cavities import Draft, component_at
from ventplanner.analysis.clearance import Chambers
from ventplanner.analysis.cups import Cups
from ventplanner.analysis.scene import Scene
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray, IntArray

OWN_SHARE = 0.9
"""A skin with at least this share of its faces before one sealed space is taken to bound that alone: a probe may go
astray at an edge (own judgement)."""

FACES_ASKED = 24
"""Faces of a skin that are asked what lies before them."""

PROBES = (0.3, 0.8, 1.5)
"""How far before a face its free space is looked for, in steps of the raster, which may take the place just before a
slanted face for material."""

MOST_BOXES = 12
"""More cups than this are looked for in one box round all of them: each box is a pass over all faces."""

Lookup = Callable[[FloatArray], LongArray]


def surfaces(scene: Scene, cups: Cups, chambers: Chambers, found: Sequence[Draft]) -> list[IntArray]:
    """The faces that bound each of some cavities, (k,) int32 ascending: whole skins, or what has the free space of a
    cavity before it."""
    faces: list[IntArray] = [np.empty(0, dtype=np.int32)] * len(found)
    sealed = [k for k, draft in enumerate(found) if draft.kind == "sealed"]
    if sealed and scene.topology.is_closed:
        skins = sealed_skins(scene)
        for k in sealed:
            own = skins.get(found[k].key, [])
            if own:
                faces[k] = np.sort(np.concatenate([scene.topology.faces_of_skin(s) for s in own]))
    rest = [k for k in sealed if not len(faces[k])]
    pitch = scene.runs.grid.pitch
    if rest:
        keys = [(k, (found[k].key,)) for k in rest]
        _by_probes(scene, _all_faces(scene), pitch, lambda points: component_at(scene, points), keys, faces)
    rooms = [(k, (draft.key,)) for k, draft in enumerate(found) if draft.kind == "chamber"]
    if rooms:
        voxels, boxes = chambers.voxels, chambers.boxes[1:]
        low, high = boxes[:, 0].min(axis=0) - PROBES[-1], boxes[:, 1].max(axis=0) + PROBES[-1]
        near = _faces_within(
            scene.vertices, scene.solid.faces, voxels.origin + low * voxels.size, voxels.origin + high * voxels.size
        )
        _by_probes(scene, near, voxels.size, voxels.chamber_at, rooms, faces)
    alone = [(k, draft.cups) for k, draft in enumerate(found) if draft.kind == "cup"]
    if alone:
        near = _faces_near(scene, cups, [number for _, numbers in alone for number in numbers])
        _by_probes(scene, near, pitch, cups.cup_at, alone, faces)
    return faces


def faces_before(scene: Scene, at: Lookup, numbers: Sequence[int], box: FloatArray) -> list[IntArray]:
    """The faces in a box that have the space of each number before them, (k,) int32 ascending.

    at: the number of the space that holds each of (k, 3) build points, -1 for none. box: (2, 3) mm, file axes.
    """
    faces: list[IntArray] = [np.empty(0, dtype=np.int32)] * len(numbers)
    if numbers:
        keys = [(k, (number,)) for k, number in enumerate(numbers)]
        chosen = _faces_within(scene.solid.vertices, scene.solid.faces, box[0], box[1])
        _by_probes(scene, chosen, scene.runs.grid.pitch, at, keys, faces)
    return faces


def sealed_skins(scene: Scene) -> dict[int, list[int]]:
    """Skins that bound each sealed component (key of the open tree), told by a few faces of each skin. A component that
    shares a skin with the open, or with another one, is not listed: only its faces can tell."""
    topology = scene.topology
    order, ends = topology.faces_by_skin
    counts = np.diff(ends, prepend=0)
    asked = np.minimum(counts, FACES_ASKED)
    skin = np.repeat(np.arange(topology.n_skins), asked)
    nth = np.arange(len(skin)) - np.repeat(np.cumsum(asked) - asked, asked)
    place = (ends - counts)[skin] + nth * (counts[skin] - 1) // np.maximum(asked[skin] - 1, 1)
    middle, normal = _middles_and_normals(scene, order[place])
    component = component_at(scene, middle + normal * PROBES[0] * scene.runs.grid.pitch)
    skin, component = skin[component >= 0], component[component >= 0]
    pairs, votes = np.unique(skin * scene.open_tree.n_branches + component, return_counts=True)
    skin, component = np.divmod(pairs, scene.open_tree.n_branches)
    own = votes >= OWN_SHARE * np.bincount(skin, weights=votes, minlength=topology.n_skins)[skin]
    shared = set(component[~own].tolist())
    found: dict[int, list[int]] = {}
    for s, c in zip(skin[own].tolist(), component[own].tolist(), strict=True):
        if c > 0 and c not in shared:
            found.setdefault(c, []).append(s)
    return found


def _by_probes(
    scene: Scene,
    chosen: IntArray,
    step: float,
    at: Lookup,
    keys: Iterable[tuple[int, tuple[int, ...]]],
    faces: list[IntArray],
) -> None:
    """Give each cavity (its place in `faces`, and the numbers that `at` gives its space) the chosen faces before it."""
    cavity = np.concatenate([np.full(len(numbers), k) for k, numbers in keys])
    numbers = np.concatenate([np.asarray(numbers, dtype=np.int64) for _, numbers in keys])
    table = np.full(int(numbers.max()) + 1, -1, dtype=np.int64)
    table[numbers] = cavity
    owner = np.full(len(chosen), -1, dtype=np.int64)
    middle, normal = _middles_and_normals(scene, chosen)
    pending = np.arange(len(chosen))
    for distance in PROBES:
        number = at(middle[pending] + normal[pending] * (distance * step))
        known = (number >= 0) & (number < len(table))
        owner[pending[known]] = table[number[known]]
        pending = pending[owner[pending] < 0]
    order = np.argsort(owner, kind="stable")
    places = np.unique(cavity)
    first, last = (np.searchsorted(owner[order], places, side) for side in ("left", "right"))
    for k, a, b in zip(places.tolist(), first.tolist(), last.tolist(), strict=True):
        faces[k] = chosen[order[a:b]]


def _all_faces(scene: Scene) -> IntArray:
    return np.arange(len(scene.solid.faces), dtype=np.int32)


def _faces_near(scene: Scene, cups: Cups, numbers: Sequence[int]) -> IntArray:
    """Faces that may have the sealed space of some cups before them: their middles are near its columns and heights."""
    grid, room = scene.runs.grid, (PROBES[-1] + 1.0) * scene.runs.grid.pitch
    boxes = []
    for number in numbers:
        x, y = grid.centres(cups.columns_of(number))
        cup = cups.cups[number]
        low = (x.min(), y.min(), cup.from_height)
        boxes.append((low, (x.max(), y.max(), max(cup.top_height, cup.from_height))))
    if len(boxes) > MOST_BOXES:
        boxes = [(tuple(np.min([b[0] for b in boxes], axis=0)), tuple(np.max([b[1] for b in boxes], axis=0)))]
    faces = scene.solid.faces
    middle = [sum(np.ascontiguousarray(scene.vertices[:, k])[faces[:, c]] for c in range(3)) / 3.0 for k in range(3)]
    near = np.zeros(len(faces), dtype=bool)
    for low, high in boxes:
        own = np.ones(len(faces), dtype=bool)
        for k in range(3):
            own &= (middle[k] >= low[k] - room) & (middle[k] <= high[k] + room)
        near |= own
    return np.flatnonzero(near).astype(np.int32)


def _faces_within(vertices: FloatArray, faces: IntArray, low: FloatArray, high: FloatArray) -> IntArray:
    """Faces with a corner in a box."""
    inside: NDArray[np.bool_] = np.ones(len(vertices), dtype=bool)
    for axis in range(3):
        inside &= (vertices[:, axis] >= low[axis]) & (vertices[:, axis] <= high[axis])
    return np.flatnonzero(inside[faces].any(axis=1)).astype(np.int32)


def _middles_and_normals(scene: Scene, faces: IntArray) -> tuple[FloatArray, FloatArray]:
    """Centroids and unit normals of faces, build axes."""
    a, b, c = (scene.vertices[scene.solid.faces[faces, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    length = np.sqrt(np.einsum("ij,ij->i", normal, normal))
    return (a + b + c) / 3.0, normal / np.maximum(length, 1e-300)[:, None]
