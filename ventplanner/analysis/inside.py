"""`look_inside`: what a print may suffer from besides suction: islands, ceilings, specks of void, thin walls."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.ceilings import Ceiling, ceilings
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.islands import LEAST_CELLS, LEAST_LAYERS, Island, held_runs, islands_of
from ventplanner.analysis.places import Places
from ventplanner.analysis.specks import Speck, specks
from ventplanner.analysis.thin import ThinPlace, thin_places
from ventplanner.geometry.columns import Runs, cast
from ventplanner.geometry.material import material_runs
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import InsideLimits
from ventplanner.profile import Profile


@dataclass(frozen=True, eq=False)
class Inside:
    """What is worth a look inside a part in its pose; hinders nothing.

    islands: by height. ceilings: by cavity, largest first. specks, thin: largest first. limits: what named them.
    """

    islands: tuple[Island, ...]
    ceilings: tuple[Ceiling, ...]
    specks: tuple[Speck, ...]
    thin: tuple[ThinPlace, ...]
    limits: InsideLimits


def look_inside(findings: Findings, profile: Profile | None = None, limits: InsideLimits | None = None) -> Inside:
    """Look for islands, ceilings, specks and thin walls of the part as it came, in its pose.

    profile: its layer height says how long an island must stay apart to be one. limits: what counts as thin and as a
    ceiling. Plate and supports hold what they touch; a part on supports that are not there yet is held at its lowest
    layer.
    """
    profile, limits = profile or Profile(), limits or InsideLimits()
    hangs = in_mid_air(findings, profile, limits)
    return Inside(*hangs, specks(findings), thin_places(findings, limits.thin_mm), limits)


def in_mid_air(
    findings: Findings, profile: Profile, limits: InsideLimits
) -> tuple[tuple[Island, ...], tuple[Ceiling, ...]]:
    """The islands and ceilings alone: what depends most on the pose."""
    touches = _support_corners(findings)
    return _islands(findings, profile.layer_height_mm, touches), ceilings(findings, limits.overhang_deg, touches)


def _islands(findings: Findings, layer_mm: float, touches: FloatArray | None) -> tuple[Island, ...]:
    material = material_runs(_part_runs(findings))
    held = held_runs(material, layer_mm, touches)
    if findings.pose.on == "plate":
        held |= material.z0 <= layer_mm
    cells = LEAST_CELLS * material.grid.pitch**3
    found = islands_of(material, held, layer_mm, LEAST_LAYERS * layer_mm, cells)
    starts = np.array([i.start for i in found]).reshape(-1, 3)
    place = Places.of(findings).beside(starts, np.array([0.0, 0.0, -1.0]))
    return tuple(
        replace(i, cavity="" if p < 0 else findings.cavities[p].id) for i, p in zip(found, place.tolist(), strict=True)
    )


def _part_runs(findings: Findings) -> Runs:
    """The columns of the part without the supports in its file."""
    scene = findings.scene
    if not findings.support_skins.any():
        return scene.runs
    of_part = ~findings.support_skins[scene.topology.skin_of_face]
    skin = scene.topology.skin_of_face[of_part]
    return cast(scene.vertices, scene.solid.faces[of_part], skin, scene.resolution.pitch_mm, tight=False)


def _support_corners(findings: Findings) -> FloatArray | None:
    """(k, 3) build points: corners of the supports in the file and of those from a second one; None without any."""
    scene, found = findings.scene, []
    if findings.support_skins.any():
        own = findings.support_skins[scene.topology.skin_of_face]
        found.append(scene.vertices[np.unique(scene.solid.faces[own])])
    if findings.obstacles is not None:
        found.append(findings.obstacles.vertices)
    return np.concatenate(found) if found else None
