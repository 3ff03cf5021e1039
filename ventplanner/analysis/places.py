"""Where cavities are: points within each of them, and the cavity at a point."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.cavities import Cavity, component_at, points_of_cup
from ventplanner.analysis.findings import Findings
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray

MOST_POINTS = 4000
"""Points of a cavity at most: enough to tell which half of it lies where."""


@dataclass(frozen=True, eq=False)
class Places:
    """Tables from the numbers of sealed components, chambers and cups to places in `findings.cavities`, -1 for none."""

    findings: Findings
    sealed: LongArray
    chamber: LongArray
    alone: LongArray

    @classmethod
    def of(cls, findings: Findings) -> Places:
        """The tables of all cavities."""
        # One entry more than there are numbers: the last stays -1, for the number -1.
        counts = (findings.scene.open_tree.n_branches, findings.chambers.count + 1, len(findings.cups.cups))
        sealed, chamber, alone = (np.full(n + 1, -1, dtype=np.int64) for n in counts)
        for place, cavity in enumerate(findings.cavities):
            if cavity.kind == "sealed":
                sealed[cavity.key] = place
            elif cavity.kind == "chamber":
                chamber[cavity.key] = place
            else:
                alone[[cup.number for cup in cavity.cups]] = place
        return cls(findings, sealed, chamber, alone)

    def at(self, points: FloatArray) -> LongArray:
        """(k, 3) build points to the place in `findings.cavities` of the cavity that holds each, -1 for none."""
        found = self.alone[self.findings.cups.cup_at(points)]
        for better in (
            self.chamber[self.findings.chambers.voxels.chamber_at(points)],
            self.sealed[component_at(self.findings.scene, points)],
        ):
            found = np.where(better >= 0, better, found)
        return found


def points_in(findings: Findings, cavity: Cavity) -> tuple[FloatArray, FloatArray]:
    """Some (k, 3) build points spread over a cavity, and the share of its volume that each stands for, (k,)."""
    if cavity.kind == "chamber":
        voxels, (low, high) = findings.chambers.voxels, findings.chambers.boxes[cavity.key]
        box = tuple(slice(a, b + 1) for a, b in zip(low, high, strict=True))
        points = voxels.origin + (np.argwhere(voxels.chamber[box] == cavity.key) + low) * voxels.size
        weight = np.ones(len(points))
    elif cavity.kind == "sealed":
        runs, tree = findings.scene.runs, findings.scene.open_tree
        own = np.flatnonzero(tree.component[tree.branch_of_run] == cavity.key)
        x, y = runs.grid.centres(runs.column_of_run[own])
        points = np.stack((x, y, 0.5 * (runs.z0[own] + runs.z1[own])), axis=1)
        weight = runs.z1[own] - runs.z0[own]
    else:
        parts = [points_of_cup(findings.cups, cup.number) for cup in cavity.cups]
        points, weight = np.concatenate([p for p, _ in parts]), np.concatenate([w for _, w in parts])
    step = max(1, -(-len(points) // MOST_POINTS))
    points, weight = points[::step], weight[::step]
    return points, weight / max(float(weight.sum()), 1e-300)
