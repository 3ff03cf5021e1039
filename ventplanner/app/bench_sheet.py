"""Writes the sheet for the bench and the table of vents of a finished job, each whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from ventplanner.app.jobs import Vented
from ventplanner.errors import ParameterError
from ventplanner.io.atomic import replacing
from ventplanner.sheet.compose import Job, compose
from ventplanner.sheet.html import to_html
from ventplanner.sheet.pdf import to_pdf
from ventplanner.sheet.vent_table import to_csv
from ventplanner.sheet_parameters import SHEET_SUFFIXES, TABLE_SUFFIX, Paper

PathLike = str | os.PathLike[str]


def check_names(sheet: str | None, table: str | None) -> None:
    """Refuse names of another kind before the work begins: ParameterError."""
    if sheet is not None and Path(sheet).suffix.lower() not in SHEET_SUFFIXES:
        raise ParameterError(f"A sheet cannot be written as '{sheet}'.", "Give a name that ends in .pdf or .html.")
    if table is not None and Path(table).suffix.lower() != TABLE_SUFFIX:
        raise ParameterError(f"A table cannot be written as '{table}'.", f"Give a name that ends in {TABLE_SUFFIX}.")


def job_of(done: Vented, report: dict[str, Any]) -> Job:
    """What the sheet of a finished `vent` job is made of. report: what it reports."""
    flows = done.flow, done.flow_after
    return Job(report, done.findings, done.plan, done.exported.after, *flows, done.exported.path)


def write_sheet(job: Job, path: PathLike, paper: Paper = "a4", *, overwrite: bool = False) -> None:
    """Write the sheet, PDF or HTML by the name's ending. Raises ParameterError for another one, FileWriteError."""
    check_names(str(path), None)
    sheet = compose(job)
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
