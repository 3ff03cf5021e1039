"""`search`: which orientation needs least. It tells, and never chooses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.resolution import affordable
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import InsideLimits, VentRules
from ventplanner.orienting.bare import bare
from ventplanner.orienting.coarse import FIGURES, Coarse
from ventplanner.orienting.directions import AXES, Rest, all_over, around, rests, spacing_deg
from ventplanner.orienting.full import Judge
from ventplanner.orienting.model import Candidate, Map, Search, Wanted
from ventplanner.orienting.shape import Shape, void_cells
from ventplanner.orienting.shortlist import Pool, front, order, ranked, steps_of
from ventplanner.printed.raster import side_by_side
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

DIRECTIONS = 320
"""Directions that are looked at all over the sphere: 12 degrees apart."""

REFINED = 12
"""So many of the best of them are looked round, at half that angle and then at a quarter."""

DOWN = np.array([[0.0, 0.0, -1.0]])
"""The direction to the plate as it is, in build axes."""

PHASE = "Working out orientations"


def search(
    findings: Findings,
    rules: VentRules | None = None,
    profile: Profile | None = None,
    limits: InsideLimits | None = None,
    wanted: Wanted | None = None,
    progress: Progress = silent,
) -> Search:
    """Look at every direction to the plate coarsely, on supports, and at every flat place that the part can stand on;
    choose a few that are clearly different and each the best in something; work those out in full, as the jobs
    `inspect` and `vent` would, and the present pose as well.

    findings: of the part in its present pose; their options and the surface to be kept clear hold for all poses,
    supports, in its own file or a second one, for the present one alone. Columns are as far apart as in those findings,
    unless that takes too many: how thin the thinnest wall is does not depend on the pose. Deterministic. What
    `progress` raises ends it.
    """
    rules, profile, limits = rules or VentRules(), profile or Profile(), limits or InsideLimits()
    wanted = wanted or Wanted()
    progress("Trying directions", 0.0)
    alone = bare(findings)
    shape = Shape.of(alone, rules)
    coarse = Coarse(shape, profile, limits, findings.pose.gap_mm)
    stands = rests(alone.scene.vertices, alone.scene.solid.faces, shape.middle)
    directions, figures = _all_round(coarse, stands, progress)
    pool = _pool(coarse, (directions, figures), stands, wanted, progress)
    chosen = pool.short(wanted.candidates)
    frame = alone.scene.frame
    poses = [
        Pose(_tuple(frame.direction_to_file(pool.to_plate[k])), "plate" if pool.on_plate[k] else "supports",
             findings.pose.gap_mm)
        for k in chosen
    ]  # fmt: skip
    full = _Full(Judge(rules, profile, limits), findings, alone, frame.to_file(shape.corners))
    present, found = full.of_all(poses, pool.face[chosen].tolist(), progress)
    best = front(figures, steps_of(figures))
    table = {name: figures[:, k] for k, name in enumerate(FIGURES)}
    return Search(
        present,
        ranked(found, 1000.0 * profile.suction_limit_kpa),
        Map(frame.direction_to_file(directions), table, best),
        frame.to_file(shape.corners),
        alone is not findings,
    )


orient = search
"""The name of `search` in the package's own list of names."""


def _all_round(coarse: Coarse, stands: Sequence[Rest], progress: Progress) -> tuple[FloatArray, FloatArray]:
    """Directions to the plate in build axes and their figures, on supports."""
    frame = coarse.shape.findings.scene.frame
    flat = np.array([r.to_plate for r in stands]).reshape(-1, 3)
    directions = np.concatenate((frame.direction_to_build(AXES), DOWN, flat, all_over(DIRECTIONS)))
    figures = coarse.over(directions, progress)
    angle = 0.5 * spacing_deg(DIRECTIONS)
    for share in (1.0, 0.5):
        more = around(directions[order(figures)[:REFINED]], share * angle)
        directions = np.concatenate((directions, more))
        figures = np.concatenate((figures, coarse.over(more, progress)))
    return directions, figures


def _pool(
    coarse: Coarse, hanging: tuple[FloatArray, FloatArray], stands: Sequence[Rest], wanted: Wanted, progress: Progress
) -> Pool:
    """What is wanted of it: on supports in every direction, on the plate where the part can stand."""
    directions, figures = (one if wanted.resting != "plate" else one[:0] for one in hanging)
    stands = stands if wanted.resting != "supports" else ()
    standing = []
    for k, one in enumerate(stands):
        progress("Trying places to stand on", k / len(stands))
        to_plate = np.asarray(one.to_plate)
        void = void_cells(coarse.shape.findings, coarse.shape.void.side, -to_plate)
        standing.append(coarse.on_plate(to_plate, void))
    return Pool(
        np.concatenate((directions, np.array([r.to_plate for r in stands]).reshape(-1, 3))),
        np.arange(len(directions) + len(stands)) >= len(directions),
        np.concatenate((figures, np.array(standing).reshape(-1, len(FIGURES)))),
        np.concatenate((np.zeros(len(directions)), np.array([r.area for r in stands]))),
    )


@dataclass(frozen=True, eq=False)
class _Full:
    """Works out poses in full. findings: of the present one. alone: of the part as it is in all others. corners: of the
    hull, in the file's axes."""

    judge: Judge
    findings: Findings
    alone: Findings
    corners: FloatArray

    def of_all(
        self, poses: Sequence[Pose], faces: Sequence[float], progress: Progress
    ) -> tuple[Candidate, list[Candidate]]:
        """The present pose, and each of some others. faces: mm2 that each rests on."""
        work = [partial(self.judge.of, self.findings)]
        work += [partial(self.of, pose) for pose in poses if not self._is_present(pose)]
        present, *others = side_by_side(work, PHASE, progress)
        rest = iter(others)
        found = [present if self._is_present(pose) else next(rest) for pose in poses]
        return present, [replace(one, face_mm2=face) for one, face in zip(found, faces, strict=True)]

    def of(self, pose: Pose) -> Candidate:
        """Another pose."""
        findings = self.alone
        pitch = affordable(self.corners @ pose.rotation.T, findings.scene.resolution.pitch_mm)
        options = replace(findings.options, pitch_mm=pitch)
        posed = analyse(findings.solid, pose, options, understood=findings.understood)
        if findings.kept_clear is not None:
            posed = posed.keeping_clear(findings.kept_clear.mask)
        return self.judge.of(posed)

    def _is_present(self, pose: Pose) -> bool:
        """Then it is worked out once, with its supports."""
        now = self.findings.pose
        return pose.on == now.on and np.allclose(pose.to_plate, now.to_plate, atol=1e-6)


def _tuple(direction: FloatArray) -> tuple[float, float, float]:
    """Without the dust of rounding: an axis is that axis."""
    x, y, z = np.round(direction, 9).tolist()
    return (x, y, z)
