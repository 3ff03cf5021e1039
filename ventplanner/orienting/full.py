"""What an orientation costs, in full: analysed, vented and solved as the jobs `inspect` and `vent` do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.inside import in_mid_air
from ventplanner.analysis.pools import pools
from ventplanner.flow.ground import ground
from ventplanner.flow.suction import breathe
from ventplanner.geometry.columns import Runs
from ventplanner.geometry.material import material_runs
from ventplanner.options import InsideLimits, VentRules
from ventplanner.orienting.model import Candidate, Figures
from ventplanner.plan.fitting import fit_of_vent
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose
from ventplanner.plan.score import seen_in_each
from ventplanner.plan.sizing import sized_plan
from ventplanner.plan.venting import holes_of, tools_of
from ventplanner.plan.views import Views
from ventplanner.profile import Profile


@dataclass(frozen=True)
class Judge:
    """What orientations are judged by."""

    rules: VentRules
    profile: Profile
    limits: InsideLimits

    def of(self, findings: Findings) -> Candidate:
        """A pose with all its figures. findings: of the part in that pose."""
        basis = ground(findings)
        plan = propose(findings, self.rules)
        if self.rules.size == "need":
            plan = sized_plan(basis, self.profile, plan, self.rules)
        flow = breathe(basis, self.profile, holes_of(plan, findings.scene.frame))
        islands, ceilings = in_mid_air(findings, self.profile, self.limits)
        stays = pools(findings, tools_of(findings, plan))
        pose, curve = findings.pose, findings.cups.sealed_area
        figures = Figures(
            vents=len(plan.vents) + sum(p.outer is not None for p in plan.passages),
            unserved=len(plan.missing),
            peak_suction_pa=max((c.peak_suction for c in flow.cups), default=0.0),
            peak_overpressure_pa=max((c.steady_overpressure for c in flow.cups), default=0.0),
            sealed_mm3=curve.volume,
            sealed_area_mm2=float(curve.area.max(initial=0.0)),
            left_mm3=sum(p.least for p in stays.values()),
            seen=seen(findings, plan, self.rules),
            islands=sum(bool(i.cavity) for i in islands),
            overhang_mm2=sum(c.area for c in ceilings),
            height_mm=findings.scene.height + (pose.gap_mm if pose.on == "supports" else 0.0),
            largest_section_mm2=largest_section(findings.scene.runs, self.profile.layer_height_mm),
        )
        return Candidate(pose, figures)


def seen(findings: Findings, plan: Plan, rules: VentRules) -> float:
    """0 to 1: the share of the views from around in which a hole is seen; in each view the one that is seen best
    counts, by the share of its middle and rim that is seen. Of a single hole this is `Score.seen_share`."""
    holes = [*plan.vents, *(p.outer for p in plan.passages if p.outer is not None)]
    views = Views.of(findings.scene.frame, rules.seen_from)
    best = np.zeros(len(views.share))
    for vent in holes:
        best = np.maximum(best, seen_in_each(findings, views, fit_of_vent(findings, vent)))
    return float(best @ views.share)


def largest_section(runs: Runs, layer_mm: float) -> float:
    """mm2 of material in the layer that has most of it."""
    material = material_runs(runs)
    if not len(material.z0):
        return 0.0
    first = np.ceil(material.z0 / layer_mm - 0.5).astype(np.int64).clip(0)
    last = np.ceil(material.z1 / layer_mm - 0.5).astype(np.int64).clip(0)
    size = int(last.max()) + 1
    count = np.cumsum(np.bincount(first, minlength=size)[:size] - np.bincount(last, minlength=size)[:size])
    return float(count.max(initial=0)) * runs.pixel_area
