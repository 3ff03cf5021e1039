"""Writes the sheet for the bench and the table of vents of a finished job, each whole or not at all."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import Any

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app import draining
from ventplanner.app.jobs import Vented, figures
from ventplanner.draining.planning import drain
from ventplanner.errors import ParameterError
from ventplanner.flow.ground import ground
from ventplanner.io import report as reporting
from ventplanner.io.atomic import replacing
from ventplanner.io.meshes import read
from ventplanner.plan.carried import carried_over
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent
from ventplanner.sheet.compose import Job, Move, Pour, compose
from ventplanner.sheet.html import to_html
from ventplanner.sheet.pdf import to_pdf
from ventplanner.sheet.vent_table import to_csv
from ventplanner.sheet_parameters import SHEET_SUFFIXES, TABLE_SUFFIX, Lengths, Paper

PathLike = str | os.PathLike[str]


def check_names(sheet: str | None, table: str | None) -> None:
    """Refuse names of another kind before the work begins: ParameterError."""
    if sheet is not None and Path(sheet).suffix.lower() not in SHEET_SUFFIXES:
        raise ParameterError(f"A sheet cannot be written as '{sheet}'.", "Give a name that ends in .pdf or .html.")
    if table is not None and Path(table).suffix.lower() != TABLE_SUFFIX:
        raise ParameterError(f"A table cannot be written as '{table}'.", f"Give a name that ends in {TABLE_SUFFIX}.")


def job_of(done: Vented, report: dict[str, Any], profile: Profile, progress: Progress = silent) -> Job:
    """What the sheet of a finished `vent` job is made of. report: what it reports."""
    flows = done.flow, done.flow_after
    pour = pour_of(done.findings, done.plan, profile, progress)
    return Job(report, done.findings, done.plan, done.exported.after, *flows, done.exported.path, pour)


def job_of_file(
    findings: Findings,
    plan: Plan,
    path: PathLike,
    profile: Profile,
    progress: Progress = silent,
    *,
    with_pour: bool = True,
) -> Job:
    """The same for a file that was written and verified before: it is read again, and the figures are worked out.
    with_pour: how it empties, too, which a table does not tell.

    Raises FileReadError, MeshError for a file that is another one by now."""
    progress("Reading the file again", 0.0)
    reread = read(path, findings.part.source.unit_given)
    options = replace(findings.options, nested="as-is", pitch_mm=findings.scene.resolution.pitch_mm)
    after = analyse(reread, findings.pose, options, frame=findings.scene.frame, progress=progress)
    after = carried_over(findings, after, plan)
    told = figures(ground(findings, progress), plan, profile, progress)
    left = (*reporting.left_after(plan, after), *reporting.left_as_printed(plan, told.widths))
    more = told.flows, told.widths, (told.demands, told.advice)
    report = reporting.venting(findings, plan, after, left, True, *more)
    pour = pour_of(findings, plan, profile, progress) if with_pour else None
    return Job(report, findings, plan, after, *told.flows[:2], Path(path), pour)


def pour_of(findings: Findings, plan: Plan, profile: Profile, progress: Progress = silent) -> Pour:
    """The pour plan in words."""
    part = draining.told(findings, plan, drain(findings, plan, profile, progress))
    done = part.done
    moves = []
    for step, text in zip(done.steps, part.moves, strict=True):
        through = frozenset(ran.through for ran in step.ran if ran.through)
        lasts = f"{draining.lasts(step).capitalize()}."
        moves.append(Move(text, lasts, draining.ran_out(step, plan), step.gravity, through, step.how == "hanging"))
    return Pour(
        tuple(moves),
        f"Stays in pools: {draining.ml(done.left)}. {draining.clings(done)} Estimates.",
        draining.left_texts(part),
        draining.inside_rows(findings, done, part.reached),
        draining.warnings(findings, done, part.reached),
        draining.CAUTIONS,
    )


def write_sheet(
    job: Job, path: PathLike, paper: Paper = "a4", *, overwrite: bool = False, lengths: Lengths = "mm"
) -> None:
    """Write the sheet, PDF or HTML by the name's ending. Raises ParameterError for another one, FileWriteError."""
    check_names(str(path), None)
    sheet = compose(job, lengths)
    data = to_pdf(sheet, paper) if Path(path).suffix.lower() == ".pdf" else to_html(sheet).encode()
    _write(path, data, overwrite)


def write_table(report: dict[str, Any], path: PathLike, *, overwrite: bool = False) -> None:
    """Write the vents, widenings and passages of a report as CSV. Raises ParameterError, FileWriteError."""
    check_names(None, str(path))
    _write(path, to_csv(report).encode(), overwrite)


def _write(path: PathLike, data: bytes, overwrite: bool) -> None:
    with replacing(path, overwrite=overwrite) as draft:
        draft.path.write_bytes(data)
        draft.commit()
