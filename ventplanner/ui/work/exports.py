"""Exports of a session: drilled, written and verified in a worker process; what came of them is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from ventplanner.errors import NotVerifiedError, VentplannerError
from ventplanner.io.atomic import checked_target
from ventplanner.ui.journal import Journal
from ventplanner.ui.log import log
from ventplanner.ui.work import files
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.mending import Mending
from ventplanner.ui.work.messages import DRILLING, EXPORTING, Exported, ExportOrder, Part

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings
    from ventplanner.plan.model import Plan

CANNOT_EXPORT = "The part was not exported"


class Exports(Mending):
    """A session's exports. `exported` or `failed` tells the end of each."""

    exported = Signal(object)

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._last_export: Exported | None = None
        self._export_count = 0
        self._targets: dict[str, tuple[str, files.Stamp | None]] = {}
        self._orders: dict[str, tuple[Findings, Plan]] = {}
        self._last_order: tuple[Findings, Plan] | None = None
        """What the last export was made of."""
        self._watch = files.Watch(self)
        self._pool.busy_changed.connect(self._pool_busy)
        self._pool.progressed.connect(self._tell)
        self._pool.readying.connect(lambda step, share: self._tell(j.READY, step, share))
        self._pool.done.connect(self._exported)
        self._pool.failed.connect(self._not_exported)
        self._pool.cancelled.connect(self._export_cancelled)

    @property
    def last_export(self) -> Exported | None:
        """What came of the last export: verified, or with differences; None while one runs or if it failed."""
        return self._last_export

    def export(self, path: str, overwrite: bool = False) -> None:
        """Drill, write and verify in the worker; `exported` or `failed` tells the end."""
        self._after_fit(lambda: self._export(path, overwrite))

    def _export(self, path: str, overwrite: bool) -> None:
        state = self.state
        if state is None or self._pool.is_busy(EXPORTING):
            return
        try:
            checked_target(Path(path), overwrite)
        except VentplannerError as error:
            self._fail(error, CANNOT_EXPORT)
            return
        self._last_export = None
        plan = replace(state.plan, pose=state.pose, options=state.options)

        def order(part: Part) -> ExportOrder:
            return ExportOrder(part, plan, state.pose, state.options, path, overwrite)

        self._export_count += 1
        key = f"{self._work_key(state)} {self._export_count}"
        self._targets[key] = (path, files.stamp_of(path))
        self._orders = {} if self.findings is None else {key: (self.findings, plan)}
        self._pool.submit(EXPORTING, key, state.solid, order)

    def _exported(self, name: str, key: str, answer: object) -> None:
        if name != EXPORTING or not isinstance(answer, Exported):
            return
        self._targets.pop(key, None)
        if not self._is_this_part(key):
            self._exported_before(answer)
            return
        self._last_export, self._last_order = answer, self._orders.get(key)
        if not answer.verified:
            self._fail(NotVerifiedError(answer.differences), CANNOT_EXPORT)
            return
        log.info("Exported %d triangles, verified", answer.triangles)
        self._watch.seen(answer.path)
        self.exported.emit(answer)

    def _exported_before(self, answer: Exported) -> None:
        """An export has ended whose part is no longer open: no card of the present one, only a line."""
        name = Path(answer.path).name
        log.info("An export ended after another part had been opened, verified: %s", answer.verified)
        if not answer.verified:
            self._fail(NotVerifiedError(answer.differences), f"{name}, of the part before, was not written")
            return
        self._watch.seen(answer.path)
        self.said.emit(f"{name}, of the part that was open before, is verified and written.")

    def _not_exported(self, name: str, key: str, error: object) -> None:
        if name == EXPORTING:
            self._targets.pop(key, None)
            self._fail(error, CANNOT_EXPORT)

    def _export_cancelled(self, name: str, key: str) -> None:
        """The worker has come to rest: is the file as it was before?"""
        if name != EXPORTING or key not in self._targets:
            return
        path, before = self._targets.pop(key)
        file, now = Path(path).name, files.stamp_of(path)
        if now != before:
            self._watch.seen(path)
            self.said.emit(f"The export was cancelled too late: {file} had just been verified and written.")
        elif now is None:
            self.said.emit(f"The export was cancelled: {file} was not written.")
        else:
            self.said.emit(f"The export was cancelled: {file} is as it was before.")

    def _pool_busy(self) -> None:
        self._set_busy(j.EXPORT, self._pool.is_busy(EXPORTING), cancellable=True)
        self._set_busy(j.PICTURE, self._pool.is_busy(DRILLING), cancellable=True)
