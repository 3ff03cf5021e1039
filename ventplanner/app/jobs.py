"""The jobs of the program as functions of plain wishes, without a window: inspect, vent, save and reopen."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app.exporting import Exported, export
from ventplanner.errors import FileWriteError, ParameterError, ProjectError
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.io.atomic import checked_target
from ventplanner.io.meshes import read, writable_format
from ventplanner.io.project import SUFFIX, SavedPlan, load_plan, save_plan
from ventplanner.options import AnalysisOptions, VentRules
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose
from ventplanner.progress import Progress, silent


@dataclass(frozen=True)
class Wish:
    """What a user asks for: a file, how it hangs, how it is analysed, what its vents are like."""

    path: str
    unit: str | None = None
    pose: Pose = field(default_factory=Pose)
    options: AnalysisOptions = field(default_factory=AnalysisOptions)
    rules: VentRules = field(default_factory=VentRules)
    plan_path: str | None = None


@dataclass(frozen=True, eq=False)
class Vented:
    """A finished `vent` job."""

    findings: Findings
    plan: Plan
    exported: Exported


def open_part(wish: Wish, progress: Progress = silent) -> Solid:
    """The part of a wish: read from its file, or from a plan file, which holds the part."""
    if Path(wish.path).suffix.lower() == SUFFIX:
        return load_plan(wish.path).part
    return read(wish.path, wish.unit, progress)


def inspect(wish: Wish, progress: Progress = silent) -> Findings:
    """Read and analyse."""
    return analyse(open_part(wish, progress), wish.pose, wish.options, progress=progress)


def vent(
    wish: Wish, out: str, *, overwrite: bool = False, save: str | None = None, progress: Progress = silent
) -> Vented:
    """Read, analyse, propose (or take the vents of a saved plan), drill, write and verify; save the plan if asked."""
    check_targets(out, save, overwrite)
    findings = inspect(wish, progress)
    if wish.plan_path is None:
        plan = propose(findings, wish.rules, progress=progress)
    else:
        plan = _saved_plan(wish.plan_path, findings)
    exported = export(findings, plan, out, overwrite=overwrite, progress=progress)
    if save is not None:
        save_plan(save, SavedPlan(findings.solid, plan, wish.pose, wish.options, wish.rules), overwrite)
    return Vented(findings, plan, exported)


def check_targets(out: str, save: str | None, overwrite: bool) -> None:
    """Refuse names that cannot be written to before the work begins: ParameterError."""
    try:
        writable_format(out)
        for path in (out, save):
            if path is not None:
                checked_target(Path(path), overwrite)
    except FileWriteError as error:
        raise ParameterError(error.cause, error.way_out.replace("allow overwriting", "add --overwrite")) from error
    if save is not None and Path(save).suffix.lower() != SUFFIX:
        raise ParameterError(f"A plan cannot be saved as '{save}'.", f"Give a name that ends in {SUFFIX}.")


def with_saved_circumstances(wish: Wish) -> Wish:
    """The wish with pose, options and rules of its saved plan: a plan is carried out as it was made."""
    if wish.plan_path is None:
        return wish
    saved = load_plan(wish.plan_path)
    return replace(wish, pose=saved.pose, options=saved.options, rules=saved.rules)


def _saved_plan(path: str, findings: Findings) -> Plan:
    saved = load_plan(path)
    if saved.part.digest != findings.solid.digest:
        raise ProjectError(
            f"{Path(path).name} was made for another part ({saved.part.source.path or 'unnamed'}).",
            "Open the plan with its own part, or leave out --plan.",
        )
    return replace(saved.plan, part=findings.part.digest, pose=findings.pose, options=findings.options)
