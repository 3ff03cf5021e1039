"""Liquid that stays in a cavity when the part is held as it hangs, or plate side down: pools below the lowest way out.

Pools are measured on the columns, as cups are: a pool rises to the height at which it first runs over to the outside
(the water level of Vincent & Soille 1991, IEEE Trans. Pattern Anal. Mach. Intell. 13, 583, here on runs instead of
pixels). Air is taken to come in freely; what clings to walls or hangs in narrow holes is not counted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.places import Places
from ventplanner.geometry.columns import LongArray, Tool
from ventplanner.geometry.join_tree import JoinTree
from ventplanner.geometry.solid import FloatArray


@dataclass(frozen=True)
class Pools:
    """mm3 of liquid that stay in a cavity: hanging as in the printer (plate on top), and standing, plate side down."""

    hanging: float
    standing: float

    @property
    def least(self) -> float:
        """The less of both."""
        return min(self.hanging, self.standing)


def pools(findings: Findings, tools: tuple[Tool, ...] = ()) -> dict[str, Pools]:
    """What stays in each cavity, by id, with these holes drilled. A cavity without a way out keeps all it holds."""
    places = Places.of(findings)
    hanging, standing = (_by_cavity(findings, places, tools, hanging=way) for way in (True, False))
    return {c.id: Pools(float(hanging[k]), float(standing[k])) for k, c in enumerate(findings.cavities)}


def pools_in(findings: Findings, tools: tuple[Tool, ...], cavity: str) -> Pools:
    """What stays in one cavity, by id: as `pools` tells, but only what it depends on is looked at."""
    places = Places.of(findings)
    number = [c.id for c in findings.cavities].index(cavity)
    hanging, standing = (_in_cavity(findings, places, tools, number, hanging=way) for way in (True, False))
    return Pools(hanging, standing)


def _in_cavity(findings: Findings, places: Places, tools: tuple[Tool, ...], number: int, *, hanging: bool) -> float:
    """mm3."""
    pieces = findings.scene.pieces_draining(hanging=hanging)
    corners = np.array(np.meshgrid(*findings.cavities[number].bounds.T, indexing="ij")).reshape(3, -1).T
    corners = findings.scene.frame.to_build(corners)
    # A place belongs to the voxel that it is nearest to, so it may lie a little beside the cavity.
    room = 2.0 * max(findings.chambers.voxels.size, findings.scene.runs.grid.pitch)
    low, high = corners.min(axis=0) - room, corners.max(axis=0) + room
    low, high = (-high, -low) if hanging else (low, high)
    own, first = pieces.between(low, high), pieces.drills_between(tools, low, high)
    if not own and not first:
        return 0.0
    region = pieces.region(tools, first, own)
    if region is None:
        return float(_by_cavity(findings, places, tools, hanging=hanging)[number])
    swept = pieces.swept(region, [tools[k] for k in sorted(region.drills)])
    run, low, high = held(swept.tree)
    middle = np.stack((*swept.centres(run), 0.5 * (low + high)), axis=1)
    own_place = places.at(-middle if hanging else middle) == number
    return float(np.bincount(own_place, weights=high - low, minlength=2)[1] * swept.tree.runs.pixel_area)


def _by_cavity(findings: Findings, places: Places, tools: tuple[Tool, ...], *, hanging: bool) -> FloatArray:
    """(cavities,) mm3."""
    tree = findings.scene.draining(tools, hanging=hanging)
    run, low, high = held(tree)
    x, y = tree.runs.grid.centres(tree.runs.column_of_run[run])
    middle = np.stack((x, y, 0.5 * (low + high)), axis=1)
    place = places.at(-middle if hanging else middle)
    known = place >= 0
    volume = np.bincount(place[known], weights=(high - low)[known], minlength=len(findings.cavities))
    return np.asarray(volume * tree.runs.pixel_area, dtype=np.float64)


def held(tree: JoinTree) -> tuple[LongArray, FloatArray, FloatArray]:
    """Which runs hold liquid, (k,), and from where to where in mm: from their floor to where they run over."""
    run = tree.enclosed_runs
    low, high = tree.runs.z0[run], np.minimum(tree.runs.z1[run], tree.opens[tree.branch_of_run[run]])
    full = high > low
    return run[full], low[full], high[full]
