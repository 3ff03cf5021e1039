"""A second look at a drilled part as it was written: does everything breathe that should, and nothing else open?"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.cups import Cup, Cups
from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.scene import Scene, build_scene
from ventplanner.geometry.solid import Solid
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.model import Plan
from ventplanner.progress import Progress, silent

OTHER_PITCH = 0.77
"""The third grid: this share of the pitch, so that its columns fall elsewhere."""

NEAR_MM = 1.0
"""Two cups that start within this height and this many pitches of each other are the same one."""


@dataclass(frozen=True, eq=False)
class SecondLook:
    """Findings of the re-read part on a grid moved by half a pitch, and what differs from the plan, as sentences."""

    after: Findings
    differences: tuple[str, ...]


def look_again(findings: Findings, plan: Plan, reread: Solid, progress: Progress = silent) -> SecondLook:
    """Analyse a re-read part twice, on a grid moved by half a pitch and with another pitch, and compare.

    What the plan's vents should leave sealed (nothing, as a rule) is foretold from the columns of the part before;
    any other cup that does not breathe, and any that should not and does, is a difference.
    """
    pitch = findings.scene.resolution.pitch_mm
    options = replace(findings.options, nested="as-is", pitch_mm=pitch)
    after = analyse(reread, findings.pose, options, shift=0.5, progress=progress)
    finer = replace(options, pitch_mm=max(0.02, OTHER_PITCH * pitch))
    other = build_scene(reread, after.scene.topology, findings.pose, finer)
    foretold = findings.scene.cups(tuple(tool_of_vent(findings, vent) for vent in plan.vents))
    differences: list[str] = []
    for cups, grid in ((after.cups, "moved"), (other.cups(), "finer")):
        differences += _compare(findings.scene, foretold, cups, grid)
    return SecondLook(after, tuple(dict.fromkeys(differences)))


def _compare(scene: Scene, foretold: Cups, seen: Cups, grid: str) -> list[str]:
    reach = NEAR_MM + 3.0 * scene.resolution.pitch_mm
    expected = [c for c in foretold.cups if c.state(scene.options) != "breathing"]
    found = [c for c in seen.cups if c.state(scene.options) != "breathing"]
    texts = []
    for cup in found:
        if not any(_same(cup, other, reach) for other in expected) and not _borderline(cup, scene):
            texts.append(f"a cup at {cup.from_height:.1f} mm does not breathe, on the {grid} grid")
    for cup in expected:
        if not any(_same(cup, other, reach) for other in found) and not _borderline(cup, scene):
            texts.append(f"a cup at {cup.from_height:.1f} mm opened that no vent leads to, on the {grid} grid")
    return texts


def _same(one: Cup, other: Cup, reach: float) -> bool:
    """On another grid a flat floor has another middle; its height stays."""
    return abs(one.from_height - other.from_height) <= reach


def _borderline(cup: Cup, scene: Scene) -> bool:
    """Whether a cup is late on one grid by no more than the raster: a pitch of height, a rim of pixels of volume."""
    if cup.to_height is None:
        return False
    pitch = scene.resolution.pitch_mm
    rim = 4.0 * pitch * float(np.sqrt(max(cup.peak_area, 0.0)))
    near_height = cup.sealed_height <= scene.options.late_mm + 2.0 * pitch
    near_volume = cup.sealed_volume <= scene.options.late_mm3 + rim * max(cup.sealed_height, pitch)
    return near_height or near_volume
