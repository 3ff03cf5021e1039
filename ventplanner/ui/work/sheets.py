"""The sheet for the bench of the last export: worked out and written in a thread."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject

from ventplanner.errors import Cancelled, ParameterError
from ventplanner.progress import Progress
from ventplanner.ui.journal import Journal
from ventplanner.ui.log import log
from ventplanner.ui.work import files
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.exports import Exports
from ventplanner.ui.work.lanes import Lane
from ventplanner.ui.work.messages import Exported

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings
    from ventplanner.plan.model import Plan
    from ventplanner.profile import Profile
    from ventplanner.sheet_parameters import Lengths, Paper

NOT_WRITTEN = "The sheet was not written"


@dataclass(frozen=True, eq=False)
class _Written:
    """A verified file and what it was made of. stamp: the file's when it was verified."""

    path: str
    stamp: files.Stamp | None
    findings: Findings
    plan: Plan


@dataclass(frozen=True, eq=False)
class _Told:
    """What was reported of a verified file: a table needs nothing else, so after a sheet it comes at once."""

    written: _Written
    profile: Profile
    report: dict[str, Any]


class Sheets(Exports):
    """A session's sheets: each is of the file that was exported last, whatever was planned since."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._verified: _Written | None = None
        self._told: _Told | None = None
        self._sheets = Lane("sheet", self)
        self._sheets.done.connect(self._sheet_written)
        self._sheets.failed.connect(self._sheet_failed)
        self._sheets.busy_changed.connect(lambda: self._set_busy(j.SHEET, self._sheets.is_busy, cancellable=True))
        self._sheets.progressed.connect(lambda step, share: self._tell(j.SHEET, step, share))
        self.exported.connect(self._keep_verified)

    @property
    def may_write_sheet(self) -> bool:
        """Whether there is a verified file of this part to make a sheet of."""
        written = self._verified
        return written is not None and self._last_export is not None and written.path == self._last_export.path

    def write_sheet(self, path: str, paper: Paper = "a4", overwrite: bool = False, lengths: Lengths = "mm") -> None:
        """Write the sheet (.pdf, .html) or the table of holes (.csv); `said` or `failed` tells the end."""
        written, profile = self._verified, self.profile
        if written is None or not self.may_write_sheet:
            return
        if files.stamp_of(written.path) != written.stamp:
            changed = f"{Path(written.path).name} is not the file any more that was verified."
            self._fail(ParameterError(changed, "Export the part again."), NOT_WRITTEN)
            return
        told = self._told
        known = told if told is not None and told.written is written and told.profile == profile else None
        self._sheets.ask(
            path, lambda progress: _write(written, profile, known, path, paper, overwrite, progress, lengths)
        )

    def cancel_sheet(self) -> None:
        """Give it up."""
        self._sheets.stop()
        self.said.emit("Writing the sheet was cancelled.")

    def _keep_verified(self, answer: Exported) -> None:
        made = self._last_order
        if made is not None and answer.verified:
            self._verified, self._told = _Written(answer.path, files.stamp_of(answer.path), *made), None
        self._tell_changed()

    def _sheet_written(self, path: str, told: object) -> None:
        assert isinstance(told, _Told)
        self._told = told
        log.info("Wrote a sheet")
        self.said.emit(f"Written: {path}")

    def _sheet_failed(self, _: str, error: object) -> None:
        if not isinstance(error, Cancelled):
            self._fail(error, NOT_WRITTEN)


def _write(
    written: _Written,
    profile: Profile,
    known: _Told | None,
    path: str,
    paper: Paper,
    overwrite: bool,
    progress: Progress,
    lengths: Lengths,
) -> _Told:
    from ventplanner.app.bench_sheet import job_of_file, write_sheet, write_table
    from ventplanner.sheet_parameters import TABLE_SUFFIX

    is_table = path.lower().endswith(TABLE_SUFFIX)
    if not is_table or known is None:
        made_of = written.findings, written.plan, written.path, profile
        job = job_of_file(*made_of, progress, with_pour=not is_table)
        known = _Told(written, profile, job.report)
    progress("Writing the sheet", 0.9)
    if is_table:
        write_table(known.report, path, overwrite=overwrite)
    else:
        write_sheet(job, path, paper, overwrite=overwrite, lengths=lengths)
    return known
