"""A second look at a drilled part as it was written: does everything breathe that should, and nothing else open?"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.cups import Cup, Cups, find_cups
from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.scene import Scene, build_scene
from ventplanner.geometry.solid import Solid
from ventplanner.parameters import PITCH_MM
from ventplanner.plan.model import Plan
from ventplanner.plan.venting import tools_of
from ventplanner.progress import Progress, silent

OTHER_PITCH = 0.77
"""The third grid: this share of the pitch, so that its columns fall elsewhere."""

WEAKER_FILTER = 0.5
"""A cup at the filter is met on one grid and not on another: it is expected from half the filter on."""

RASTER_PITCHES = 2.5
"""By so many pitches the height at which a cup opens may differ between two grids: a slanted way out is sampled."""


@dataclass(frozen=True, eq=False)
class SecondLook:
    """Findings of the re-read part on a grid moved by half a pitch, and what differs from the plan, as sentences."""

    after: Findings
    differences: tuple[str, ...]


def look_again(findings: Findings, plan: Plan, reread: Solid, progress: Progress = silent) -> SecondLook:
    """Analyse a re-read part twice, on a grid moved by half a pitch and with another pitch, and compare.

    What the plan's vents should leave closed (nothing, as a rule) is foretold from the columns of the part before;
    any other cup that does not breathe, and any that should not and does, is a difference.
    """
    pitch = findings.scene.resolution.pitch_mm
    frame = findings.scene.frame
    options = replace(findings.options, nested="as-is", pitch_mm=pitch)
    after = analyse(reread, findings.pose, options, shift=0.5, frame=frame, progress=progress)
    another = OTHER_PITCH * pitch if OTHER_PITCH * pitch >= (PITCH_MM.lowest or 0.0) else pitch / OTHER_PITCH
    finer = replace(options, pitch_mm=another)
    other = build_scene(reread, after.scene.topology, findings.pose, finer, frame=frame)
    tools = tools_of(findings, plan)
    foretold = _Seen.of(findings.scene, findings.scene.cups(tools))
    differences: list[str] = []
    for seen, grid in ((_Seen.of(after.scene, after.cups), "moved"), (_Seen.of(other, other.cups()), "other")):
        for cup in _unexplained(seen, foretold):
            differences.append(f"a cup at {cup.from_height:.1f} mm does not breathe, on the {grid} grid")
        for cup in _unexplained(foretold, seen):
            differences.append(f"a cup at {cup.from_height:.1f} mm opened that no vent leads to, on the {grid} grid")
    return SecondLook(after, tuple(dict.fromkeys(differences)))


@dataclass(frozen=True, eq=False)
class _Seen:
    """Cups of one look: those above the filter, and those above half of it."""

    scene: Scene
    cups: Cups
    weak: Cups

    @classmethod
    def of(cls, scene: Scene, cups: Cups) -> _Seen:
        options = scene.options
        weaker = replace(
            options,
            ignore_below_mm3=WEAKER_FILTER * options.ignore_below_mm3,
            ignore_under_mm=WEAKER_FILTER * options.ignore_under_mm,
        )
        return cls(scene, cups, find_cups(cups.tree, scene.height, weaker, scene.pose.on == "plate"))


def _unexplained(one: _Seen, other: _Seen) -> list[Cup]:
    """Cups of one look that do not breathe, where the other look sees nothing of the kind at that place."""
    bad = [c for c in one.cups.cups if c.state(one.scene.options) != "breathing"]
    return [c for c in bad if not _is_seen(c, other, max(one.scene.runs.grid.pitch, other.scene.runs.grid.pitch))]


def _is_seen(cup: Cup, other: _Seen, pitch: float) -> bool:
    """Whether another look sees a cup at this place closed as well, to within the raster."""
    aside = np.array([[0, 0], [1, 0], [-1, 0], [0, 1], [0, -1]]) * pitch
    points = np.concatenate(
        [np.column_stack((cup.start[:2] + aside, np.full(5, cup.start[2] + up))) for up in (1e-4, 0.5 * pitch, 0.3)]
    )
    numbers = other.weak.cup_at(points)
    if any(other.weak.cups[k].state(other.scene.options) != "breathing" for k in numbers if k >= 0):
        return True
    if cup.to_height is None:
        return False
    tree = other.weak.tree
    run = tree.runs.run_at(points)
    opens = tree.opens[tree.branch_of_run[run[run >= 0]]]
    return len(opens) > 0 and cup.to_height - max(float(opens.max()), cup.from_height) <= RASTER_PITCHES * pitch
