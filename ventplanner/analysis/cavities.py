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
"""A place on a floor is looked up this far above it, as far as the thinnest void that counts."""


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
    volume: mm3, of an open one up to its mouth. bounds: (2, 3) mm along the file's axes. faces: (k,) int32 faces of the
    part that bound it, its inner surface.
    """

    id: str
    kind: Kind
    key: int
    state: State
    volume: float
    bounds: FloatArray
    openings: tuple[Opening, ...]
    cups: tuple[FoundCup, ...]
    faces: IntArray


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
    points, weight = points_of_cup(cups, number)
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


def points_of_cup(cups: Cups, number: int) -> tuple[FloatArray, FloatArray]:
    """Middles of a cup's runs (build points), and their lengths."""
    own, runs = cups.runs_of(number), cups.tree.runs
    top = np.minimum(runs.z1[own], cups.cups[number].top_height)
    x, y = runs.grid.centres(runs.column_of_run[own])
    low = runs.z0[own]
    return np.stack((x, y, 0.5 * (low + top)), axis=1), np.maximum(top - low, 0.0)


def worst(states: list[State]) -> State:
    """The worst of some states; breathing if there are none."""
    return next((s for s in _WORST if s in states), "breathing")
