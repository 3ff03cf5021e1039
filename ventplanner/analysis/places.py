"""Where cavities are: points within each of them, and the cavity at a point."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.cavities import component_at, points_of_cup
from ventplanner.analysis.findings import Findings
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray

Spread = tuple[LongArray, FloatArray, FloatArray]

OFF_SKIN_MM = 1e-4
"""What a skin looks into is looked up this far off it."""

STEPS_IN = (0.5, 1.0, 1.5, 2.0)
"""And so many voxels of the chambers further in (own judgement)."""

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

    def beside(self, points: FloatArray, direction: FloatArray) -> LongArray:
        """As `at`, of points on a skin that look along a direction into free space; (k, 3), and (3,) or (k, 3) unit.

        Near a wall a voxel of a chamber may count as none of it: the first of some points further on that lies in a
        cavity decides, as long as no material lies between."""
        found = np.full(len(points), -1, dtype=np.int64)
        free = np.ones(len(points), dtype=bool)
        for depth in (OFF_SKIN_MM, *(self.findings.chambers.voxels.size * np.array(STEPS_IN))):
            further = points + depth * direction
            free &= self.findings.scene.runs.run_at(further) >= 0
            asked = np.flatnonzero(free & (found < 0))
            found[asked] = self.at(further[asked])
        return found

    def spread(self) -> tuple[LongArray, FloatArray, FloatArray]:
        """Some points in each cavity: the place of the cavity, (k,); build points, (k, 3); the share of the cavity's
        volume that each stands for, (k,)."""
        parts = [self._in_sealed(), self._in_chambers(), *self._in_cups()]
        place, points, weight = (np.concatenate([part[k] for part in parts]) for k in range(3))
        count = np.bincount(place, minlength=1)
        nth = np.empty(len(place), dtype=np.int64)
        order = np.argsort(place, kind="stable")
        nth[order] = np.arange(len(place)) - np.repeat(np.cumsum(count) - count, count)
        some = nth % -(-count // MOST_POINTS)[place] == 0
        place, points, weight = place[some], points[some], weight[some]
        return place, points, weight / np.maximum(np.bincount(place, weights=weight, minlength=1), 1e-300)[place]

    def _in_sealed(self) -> Spread:
        runs, tree = self.findings.scene.runs, self.findings.scene.open_tree
        place = self.sealed[tree.component[tree.branch_of_run]]
        own = np.flatnonzero(place >= 0)
        x, y = runs.grid.centres(runs.column_of_run[own])
        low, high = runs.z0[own], runs.z1[own]
        return place[own], np.stack((x, y, 0.5 * (low + high)), axis=1), high - low

    def _in_chambers(self) -> Spread:
        voxels = self.findings.chambers.voxels
        index = np.argwhere(voxels.chamber > 0)
        place = self.chamber[voxels.chamber[tuple(index.T)]]
        return place, voxels.origin + index * voxels.size, np.ones(len(index))

    def _in_cups(self) -> Iterator[Spread]:
        for place, cavity in enumerate(self.findings.cavities):
            if cavity.kind == "cup":
                for cup in cavity.cups:
                    points, weight = points_of_cup(self.findings.cups, cup.number)
                    yield np.full(len(points), place), points, weight
