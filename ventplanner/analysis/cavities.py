"""Cavities: what is sealed for good, chambers with a narrow way out, and cups that lie in neither."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ventplanner.analysis.clearance import Chambers
from ventplanner.analysis.cups import Cup, Cups, State
from ventplanner.analysis.openings import Opening
from ventplanner.analysis.scene import Scene
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray, IntArray

Kind = Literal["sealed", "chamber", "cup"]
_WORST: tuple[State, ...] = ("sealed", "late", "breathing")
ABOVE_FLOOR_MM = 1e-4
OWN_SHARE = 0.9


@dataclass(frozen=True, eq=False)
class FoundCup:
    """A cup with its name ("A1" is the first of cavity "A"), its number in `Cups.cups`, and its state."""

    id: str
    number: int
    cup: Cup
    state: State


@dataclass(frozen=True, eq=False)
class Cavity:
    """A cavity with its cups and existing openings.

    kind "sealed": a component of the free space that never reaches the outside (key: branch of the open tree);
    "chamber": wider than its ways out (key: chamber number); "cup": a cup in no cavity (key: cup number).
    volume: mm3, of an open one up to its mouth. bounds: (2, 3) mm along the file's axes. faces: its inner surface.
    """

    id: str
    kind: Kind
    key: int
    state: State
    volume: float
    bounds: FloatArray
    openings: tuple[Opening, ...]
    cups: tuple[FoundCup, ...]


@dataclass(frozen=True, eq=False)
class Draft:
    """A cavity before it has a name."""

    kind: Kind
    key: int
    volume: float
    cups: tuple[int, ...]


def drafts(scene: Scene, cups: Cups, chambers: Chambers) -> tuple[Draft, ...]:
    """Group cups into cavities, and list chambers without cups too."""
    homes = [_home(scene, cups, chambers, k) for k in range(len(cups.cups))]
    members: dict[tuple[Kind, int], list[int]] = {("chamber", c): [] for c in range(1, chambers.count + 1)}
    for k, home in enumerate(homes):
        members.setdefault(home, []).append(k)
    component_volume = _component_volumes(scene)
    found = []
    for (kind, key), own in members.items():
        if kind == "sealed":
            volume = float(component_volume[key])
        elif kind == "chamber":
            volume = float(chambers.volume[key])
        else:
            volume = sum(cups.cups[k].sealed_volume for k in own)
        found.append(Draft(kind, key, volume, tuple(own)))
    return tuple(found)


def _component_volumes(scene: Scene) -> FloatArray:
    tree = scene.open_tree
    runs = tree.runs
    component = tree.component[tree.branch_of_run]
    inner = component != 0
    length = np.where(inner, np.where(inner, runs.z1, 0.0) - np.where(inner, runs.z0, 0.0), 0.0)
    return np.asarray(np.bincount(component, weights=length, minlength=tree.n_branches) * runs.pixel_area)


def _home(scene: Scene, cups: Cups, chambers: Chambers, number: int) -> tuple[Kind, int]:
    cup = cups.cups[number]
    component = component_at(scene, (cup.start + np.array([0.0, 0.0, ABOVE_FLOOR_MM]))[None])[0]
    if component > 0:
        return "sealed", int(component)
    points, weight = _points_of(cups, number)
    chamber = np.maximum(chambers.voxels.chamber_at(points), 0)
    share = np.bincount(chamber, weights=weight, minlength=chambers.count + 1)
    if share.argmax() > 0 and share.max() >= 0.5 * share.sum():
        return "chamber", int(share.argmax())
    # A pocket of a cup that is in no cavity belongs to that cup.
    tree = cups.tree
    eldest = number
    branch = tree.parent[cup.branch]
    while branch > 0:
        if cups.cup_of_branch[branch] >= 0:
            eldest = int(cups.cup_of_branch[branch])
        branch = tree.parent[branch]
    return "cup", eldest


def component_at(scene: Scene, points: FloatArray) -> LongArray:
    """(k, 3) build points to the sealed component that holds each: 0 for the open free space, -1 in material."""
    tree = scene.open_tree
    run = tree.runs.run_at(points)
    found = tree.component[tree.branch_of_run[np.maximum(run, 0)]].astype(np.int64)
    return np.where(run >= 0, found, -1)


def _points_of(cups: Cups, number: int) -> tuple[FloatArray, FloatArray]:
    """Middles of a cup's runs (build points), and their lengths."""
    tree = cups.tree
    own = tree.enclosed_runs
    own = own[cups.cup_of_branch[tree.branch_of_run[own]] == number]
    runs = tree.runs
    top = np.minimum(runs.z1[own], cups.cups[number].top_height)
    x, y = runs.grid.centres(runs.column_of_run[own])
    low = runs.z0[own]
    return np.stack((x, y, 0.5 * (low + top)), axis=1), np.maximum(top - low, 0.0)


def worst(states: list[State]) -> State:
    """The worst of some states; breathing if there are none."""
    return next((s for s in _WORST if s in states), "breathing")


def inner_faces(scene: Scene, chambers: Chambers, cups: Cups, kind: Kind, key: int) -> IntArray:
    """Faces of the part that bound a cavity, (k,) int32: its skins, or the faces with its free space before them."""
    if kind == "sealed" and scene.topology.is_closed:
        skins = sealed_skins(scene).get(key, [])
        if skins:
            return np.sort(np.concatenate([scene.topology.faces_of_skin(s) for s in skins]))
    chosen = np.arange(len(scene.solid.faces), dtype=np.int32)
    step = scene.runs.grid.pitch
    if kind == "chamber":
        inside = np.argwhere(chambers.voxels.chamber == key)
        step, origin = chambers.voxels.size, chambers.voxels.origin
        low, high = origin + (inside.min(axis=0) - 1.5) * step, origin + (inside.max(axis=0) + 1.5) * step
        chosen = _faces_within(scene, low, high)
    middle, normal = _middles_and_normals(scene, chosen)
    belongs = np.zeros(len(chosen), dtype=bool)
    # The raster may take the place just before a slanted face for material: look a little further too.
    for distance in (0.3, 0.8, 1.5):
        probe = middle + normal * (distance * step)
        if kind == "sealed":
            belongs |= component_at(scene, probe) == key
        elif kind == "chamber":
            belongs |= chambers.voxels.chamber_at(probe) == key
        else:
            belongs |= cups.cup_at(probe) == key
    return np.asarray(chosen[belongs], dtype=np.int32)


def _middles_and_normals(scene: Scene, faces: IntArray) -> tuple[FloatArray, FloatArray]:
    """Centroids and unit normals of faces, build axes."""
    corners = scene.vertices[scene.solid.faces[faces]]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return corners.mean(axis=1), normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)


def _faces_within(scene: Scene, low: FloatArray, high: FloatArray) -> IntArray:
    inside = np.ones(len(scene.vertices), dtype=bool)
    for axis in range(3):
        inside &= (scene.vertices[:, axis] >= low[axis]) & (scene.vertices[:, axis] <= high[axis])
    return np.flatnonzero(inside[scene.solid.faces].any(axis=1)).astype(np.int32)


def sealed_skins(scene: Scene) -> dict[int, list[int]]:
    """Skins that bound each sealed component (key of the open tree), told by a few faces of each skin."""
    found: dict[int, list[int]] = {}
    for skin in range(scene.topology.n_skins):
        faces = scene.topology.faces_of_skin(skin)
        some = faces[np.linspace(0, len(faces) - 1, min(len(faces), 24)).astype(np.int64)]
        middle, normal = _middles_and_normals(scene, some)
        component = component_at(scene, middle + normal * 0.3 * scene.runs.grid.pitch)
        votes = np.bincount(component[component >= 0], minlength=1)
        # A skin that looks into the open too belongs to no cavity alone.
        if votes.argmax() > 0 and votes.max() >= OWN_SHARE * votes.sum():
            found.setdefault(int(votes.argmax()), []).append(skin)
    return found
