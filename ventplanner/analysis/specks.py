"""Specks: closed void below the filter, which no vent is planned for: a drop of resin that stays in the part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.scene import Scene
from ventplanner.analysis.surfaces import sealed_skins
from ventplanner.geometry.solid import FloatArray

LEAST_CELLS = 1.0
"""A closed void that only the columns know holds at least so many cells (pitch cubed): less is their rounding."""


@dataclass(frozen=True, eq=False)
class Speck:
    """at: (3,) build point in it. volume: mm3."""

    at: FloatArray
    volume: float


def specks(findings: Findings) -> tuple[Speck, ...]:
    """Every closed void that is no cavity, largest first: those a skin of its own bounds, exact in volume and found
    however small they are, and those between several skins, as the columns measure them."""
    scene = findings.scene
    skins = _small_skins(findings)
    found = [_of_skin(scene, int(s)) for s in np.flatnonzero(skins)]
    taken = set()
    if scene.topology.is_closed:
        taken = {key for key, own in sealed_skins(scene).items() if skins[own].any()}
    found += _between_skins(findings, taken)
    return tuple(sorted(found, key=lambda s: (-round(s.volume, 6), *np.round(s.at, 3).tolist())))


def _small_skins(findings: Findings) -> np.ndarray:
    """(n_skins,) bool: inward skins below the filter that bound no cavity."""
    topology = findings.scene.topology
    if not (topology.is_closed and topology.is_oriented):
        return np.zeros(topology.n_skins, dtype=bool)
    volume = topology.volume_of_skin
    small = (volume < 0.0) & (-volume < max(findings.options.ignore_below_mm3, 0.0))
    for cavity in findings.cavities:
        small[np.unique(topology.skin_of_face[cavity.faces])] = False
    return np.asarray(small)


def _of_skin(scene: Scene, skin: int) -> Speck:
    middle = scene.topology.bounds_of_skin[skin].mean(axis=0)
    return Speck(scene.frame.to_build(middle[None])[0], -float(scene.topology.volume_of_skin[skin]))


def _between_skins(findings: Findings, taken: set[int]) -> list[Speck]:
    """Sealed components of the free space that are no cavity and have no skin of their own."""
    scene = findings.scene
    tree, runs = scene.open_tree, scene.runs
    component = tree.component[tree.branch_of_run]
    known = {c.key for c in findings.cavities if c.kind == "sealed"} | taken
    inner = np.flatnonzero((component != 0) & ~np.isin(component, np.array(sorted(known), dtype=np.int64)))
    component, length = component[inner], runs.z1[inner] - runs.z0[inner]
    volume = np.bincount(component, length * runs.pixel_area, tree.n_branches)
    least = LEAST_CELLS * runs.grid.pitch**3
    found = []
    for key in np.flatnonzero(volume > least):
        own = inner[component == key]
        x, y = runs.grid.centres(runs.column_of_run[own])
        points = np.stack((x, y, 0.5 * (runs.z0[own] + runs.z1[own])), axis=1)
        middle = np.average(points, axis=0, weights=runs.z1[own] - runs.z0[own])
        at = points[int(((points - middle) ** 2).sum(axis=1).argmin())]
        found.append(Speck(at, float(volume[key])))
    return found
