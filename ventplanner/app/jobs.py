"""The jobs of the program as functions of plain wishes, without a window: inspect, vent, save and reopen."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.inside import Inside, look_inside
from ventplanner.app.breathing import Breathing, demands
from ventplanner.app.exporting import Exported, export
from ventplanner.app.keeping_clear import left_kept_clear
from ventplanner.app.marks_from_file import marks_from
from ventplanner.app.minding_supports import left_by_supports
from ventplanner.app.suction import advice_data
from ventplanner.errors import FileReadError, FileWriteError, MeshError, ParameterError, ProjectError
from ventplanner.flow.ground import Ground, ground
from ventplanner.flow.model import Flow
from ventplanner.flow.sizing import sizes
from ventplanner.flow.suction import breathe
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.io.atomic import checked_target, write_error
from ventplanner.io.meshes import read, writable_format
from ventplanner.io.profile_json import read_profile
from ventplanner.io.project import SUFFIX, SavedPlan, load_plan, save_plan
from ventplanner.io.supports import found_again, read_supports
from ventplanner.options import AnalysisOptions, InsideLimits, VentRules
from ventplanner.plan.alternatives import Alternatives, Search
from ventplanner.plan.consequences import Air, base_height, every_alternative, with_widths
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose
from ventplanner.plan.sizing import sized_plan
from ventplanner.plan.venting import holes_of, printed_widths, tools_of
from ventplanner.printed.engine import Widths, widths_as_printed
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

_LONG = 1e100
"""A direction longer than this is shortened first: the square of its length is more than a float can hold."""


@dataclass(frozen=True)
class Wish:
    """What a user asks for: a file, how it hangs, how it is analysed, what its vents are like, or a saved plan.

    keep_clear: a colour or a file that tells which faces no vent may cut (`marks_from`); None: those of the saved plan.
    supports: a file of supports that are in the way of vents; None: that of the saved plan.
    limits: what a look inside names.
    """

    path: str
    unit: str | None = None
    pose: Pose = field(default_factory=Pose)
    options: AnalysisOptions = field(default_factory=AnalysisOptions)
    rules: VentRules = field(default_factory=VentRules)
    saved: SavedPlan | None = None
    keep_clear: str | None = None
    supports: str | None = None
    profile: Profile = field(default_factory=Profile)
    limits: InsideLimits = field(default_factory=InsideLimits)


@dataclass(frozen=True, eq=False)
class Inspected:
    """A finished `inspect` job: what was found, how it would breathe as it is, and how wide its openings print."""

    findings: Findings
    flow: Flow
    printed: Widths
    advice: list[dict[str, object]]
    inside: Inside
    in_the_way: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Vented:
    """A finished `vent` job. flow, flow_after, flow_printed: as it came, with the vents, and with all as wide as it
    prints. in_the_way: a sentence for each vent and passage of a saved plan that cuts what is to be kept clear. others:
    where each vent could be instead, by its id; empty unless asked for."""

    findings: Findings
    plan: Plan
    exported: Exported
    flow: Flow
    flow_after: Flow
    flow_printed: Flow
    printed: Widths
    demands: list[dict[str, object]]
    advice: list[dict[str, object]]
    inside: Inside
    in_the_way: tuple[str, ...]
    others: dict[str, Alternatives]


def is_plan(path: str) -> bool:
    """Whether a path names a plan file, which holds its part."""
    return Path(path).suffix.lower() == SUFFIX


def wish(
    path: str,
    plan_path: str | None = None,
    unit: str | None = None,
    *,
    pose: Mapping[str, Any] | None = None,
    options: Mapping[str, Any] | None = None,
    rules: Mapping[str, Any] | None = None,
    profile_path: str | None = None,
    profile: Mapping[str, Any] | None = None,
) -> Wish:
    """A wish from the values that were given; the others are those of the saved plan, if there is one, else defaults.

    A plan file as `path` is its own plan. profile_path: file of a profile, in the place of the one that the saved plan
    keeps; profile: its fields that are given apart. Raises FileReadError and ProjectError for a plan or a profile that
    cannot be read.
    """
    given = read_profile(profile_path) if profile_path else None
    pose = dict(pose or {})
    longest = max(map(abs, pose.get("to_plate", (0.0,))))
    if longest > _LONG:
        pose["to_plate"] = tuple(x / longest for x in pose["to_plate"])
    if plan_path is None and is_plan(path):
        plan_path = path
    if plan_path is None:
        bench = replace(given or Profile(), **(profile or {}))
        how = Pose(**pose), AnalysisOptions(**(options or {})), VentRules(**(rules or {}))
        return Wish(path, unit, *how, profile=bench)
    saved = load_plan(plan_path)
    return Wish(
        path,
        unit or saved.part.source.unit_given,
        replace(saved.pose, **pose),
        replace(saved.options, **(options or {})),
        replace(saved.rules, **(rules or {})),
        saved,
        profile=replace(given or saved.profile or Profile(), **(profile or {})),
        limits=saved.limits,
    )


def open_part(wish: Wish, progress: Progress = silent) -> Solid:
    """The part of a wish: read from its file, or from a plan file, which holds the part.

    Raises FileReadError, and ProjectError for a part that is not the one of the wish's plan.
    """
    try:
        part = load_plan(wish.path).part if is_plan(wish.path) else read(wish.path, wish.unit, progress)
    except OSError as error:  # such as a name that is too long for the system
        raise FileReadError(f"{wish.path:.80}: {error.strerror or error}.", "Check the path.") from error
    if wish.saved is not None and wish.saved.part.digest != part.digest:
        raise ProjectError(
            f"The plan was made for another part ({wish.saved.part.source.path or 'unnamed'}).",
            "Open it with its own part, or leave out --plan.",
        )
    return part


def inspect(wish: Wish, progress: Progress = silent, *, printed_cups: bool = False) -> Inspected:
    """Read, analyse, look inside, and solve the flow of the part as it is. printed_cups: tell the cups as printed, too,
    which takes some seconds more. Raises what `find` raises."""
    findings = find(wish, progress)
    basis = ground(findings, progress)
    flow = breathe(basis, wish.profile, progress=progress)
    widths = _widths(findings, Plan(), wish.profile, progress, printed_cups)
    inside = look_inside(findings, wish.profile, wish.limits)
    told = advice_data(Breathing(basis, flow, flow))
    return Inspected(findings, flow, widths, told, inside, tuple(x.text for x in left_by_supports(findings, Plan())))


def find(wish: Wish, progress: Progress = silent) -> Findings:
    """Read and analyse, with the surface to be kept clear and the supports. Raises what `open_part`, `marks_from`,
    `read_supports` and `analyse` raise, and MeshError for a part without material."""
    part = open_part(wish, progress)
    marks = marks_from(wish.keep_clear, part) if wish.keep_clear else wish.saved.keep_clear if wish.saved else None
    supports = read_supports(wish.supports, part, progress) if wish.supports else None
    if supports is None and wish.saved is not None:
        supports = found_again(wish.saved.supports, part, progress)
    findings = analyse(part, wish.pose, wish.options, progress=progress).keeping_clear(marks).with_supports(supports)
    if findings.volume <= 0.0:
        raise MeshError(
            f"{wish.path}: the skins of the part enclose no material.",
            "Export the part as a closed body with a volume.",
        )
    return findings


def vent(
    wish: Wish,
    out: str,
    *,
    overwrite: bool = False,
    save: str | None = None,
    progress: Progress = silent,
    whole_report: bool = False,
    also: Sequence[str] = (),
) -> Vented:
    """Read, analyse, propose (or take the vents of a saved plan), drill, write and verify; solve the flow before and
    after; save the plan if asked. whole_report: tell the cups as printed and the other places for each vent, too, which
    takes some seconds more. also: files that are to be written afterwards; their names are tried now.

    Either both files are written or none.
    """
    check_targets(out, save, overwrite, also)
    findings = find(wish, progress)
    basis: Ground | None = None
    if wish.saved is not None:
        plan = _carried(wish.saved, findings)
    else:
        plan = propose(findings, wish.rules, progress=progress)
        if wish.rules.size == "need":
            basis = ground(findings, progress)
            plan = sized_plan(basis, wish.profile, plan, wish.rules, progress)

    def save_it() -> None:
        if save is not None:
            save_plan(save, _to_save(wish, findings, plan), overwrite)

    exported = export(findings, plan, out, overwrite=overwrite, when_verified=save_it, progress=progress)
    basis = basis or ground(findings, progress)
    told = figures(basis, plan, wish.profile, progress, with_cups=whole_report)
    marks = findings.kept_clear.mask if findings.kept_clear is not None else None
    in_the_way = tuple(left.text for left in left_kept_clear(findings, marks, plan))
    in_the_way += tuple(left.text for left in left_by_supports(findings, plan))
    inside = look_inside(findings, wish.profile, wish.limits)
    others = _others(wish, basis, plan, told.widths, progress) if whole_report else {}
    return Vented(
        findings, plan, exported, *told.flows, told.widths, told.demands, told.advice, inside, in_the_way, others
    )


@dataclass(frozen=True, eq=False)
class Figures:
    """What is computed of a plan for its report. flows: as the part came, with the vents, and with all as wide as it
    prints."""

    flows: tuple[Flow, Flow, Flow]
    widths: Widths
    demands: list[dict[str, object]]
    advice: list[dict[str, object]]


def figures(
    basis: Ground, plan: Plan, profile: Profile, progress: Progress = silent, *, with_cups: bool = False
) -> Figures:
    """Solve the flow before and after, and print in thought. with_cups: tell the cups as printed, too."""
    before = breathe(basis, profile, progress=progress)
    holes = holes_of(plan, basis.findings.scene.frame)
    after = breathe(basis, profile, holes, progress=progress)
    widths = _widths(basis.findings, plan, profile, progress, with_cups)
    printed = breathe(basis, profile, holes, printed_widths(basis, plan, widths), progress)
    found = Breathing(basis, before, after, sizes(basis, profile, holes))
    return Figures((before, after, printed), widths, demands(found, plan), advice_data(found))


def _others(wish: Wish, basis: Ground, plan: Plan, widths: Widths, progress: Progress) -> dict[str, Alternatives]:
    """Where each vent of the plan could be instead."""
    base = base_height(wish.profile, wish.pose.on, wish.pose.gap_mm)
    search = Search(basis.findings, wish.rules, base_mm=base)
    found = every_alternative(search, plan, Air(basis, wish.profile), progress)
    known = {vent.id: one.printed_mm for vent, one in zip(plan.vents, widths.vents, strict=False)}
    return with_widths(basis.findings, plan, found, wish.profile, progress, known)


def _widths(findings: Findings, plan: Plan, profile: Profile, progress: Progress, with_cups: bool) -> Widths:
    """Openings and vents as printed, and cups if asked for."""
    return widths_as_printed(findings, tools_of(findings, plan), profile, progress, with_cups=with_cups)


def check_targets(out: str, save: str | None, overwrite: bool, more: Sequence[str] = ()) -> None:
    """Refuse names that cannot be written to before the work begins: ParameterError."""
    if save is not None and not is_plan(save):
        raise ParameterError(f"A plan cannot be saved as '{save}'.", f"Give a name that ends in {SUFFIX}.")
    try:
        writable_format(out)
        for path in (out, save, *more):
            if path is not None:
                _try_folder_of(path, overwrite)
    except FileWriteError as error:
        raise ParameterError(error.cause, error.way_out.replace("allow overwriting", "add --overwrite")) from error


def _try_folder_of(path: str, overwrite: bool) -> None:
    """Whether the folder takes a file: asking for its permissions would not tell of disks that can only be read."""
    try:
        target = checked_target(Path(path), overwrite)
        with tempfile.TemporaryFile(dir=target.parent):
            target.with_name(f".{target.name}").exists()
    except OSError as error:
        raise write_error(Path(os.path.realpath(path)), error) from error


def _to_save(wish: Wish, findings: Findings, plan: Plan) -> SavedPlan:
    """What to keep of a wish that was carried out, with all that its own saved plan knew: notes keep their places."""
    kept = findings.kept_clear.mask if findings.kept_clear is not None else None
    known = replace(wish.saved or SavedPlan(findings.solid), part=findings.solid, plan=plan, keep_clear=kept)
    if findings.obstacles is not None:
        known = replace(known, supports=findings.obstacles.supports)
    known = replace(known, pose=wish.pose, options=wish.options, rules=wish.rules, profile=wish.profile)
    return replace(known, limits=wish.limits)


def _carried(saved: SavedPlan, findings: Findings) -> Plan:
    """The saved plan, for the findings of its own part."""
    return replace(saved.plan, part=findings.part.digest, pose=findings.pose, options=findings.options)
