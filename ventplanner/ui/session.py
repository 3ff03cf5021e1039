"""`Session`: the work on one part as the window sees it. Every method returns at once; answers come as signals."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from ventplanner import compile_cache
from ventplanner.app import edits
from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState, to_saved, wish_key
from ventplanner.errors import InputError
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.support_file import Supports
from ventplanner.progress import Progress
from ventplanner.ui.collecting import put_aside
from ventplanner.ui.journal import Abandoned, Journal, abandoned
from ventplanner.ui.log import log
from ventplanner.ui.work import files
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse, analyse_state
from ventplanner.ui.work.colours import FileColours
from ventplanner.ui.work.fits import FIT_PATIENCE_S
from ventplanner.ui.work.lanes import Lane, Work
from ventplanner.ui.work.messages import CLOSING, EXPORTING, HOLLOWING, MENDING
from ventplanner.ui.work.orienting import Orienting
from ventplanner.ui.work.pool import WORKERS

COMPILING_PATIENCE_S = 300.0
"""A worker may take so long to compile the inner loops on a first start; then it is done here."""

PATIENCE_S, SAVING_PATIENCE_S = 2.0, 10.0
"""The end waits so long for threads at work; and so long for a plan that is being saved."""

CANNOT_OPEN, CANNOT_SAVE = "The file was not opened", "The plan was not saved"

Prepare = Callable[[Solid, Progress], Callable[[AppState], Edit]]
"""In a thread: what else is to be read for a part that was read again, and the edit that takes all of it."""


class Session(Orienting):
    """The part, the plan, their history, and what is known about them. Lives in the window's thread.

    analyse, read: how a state is analysed and a file is read (in a thread); tests put others in their place.
    workers: so many processes are kept warm; with 0, one is started when it is needed.
    """

    saved = Signal(str)
    file_changed = Signal(str)

    def __init__(
        self,
        parent: QObject | None = None,
        *,
        analyse: Analyse = analyse_state,
        read: files.Reader = files.read_file,
        journal: Journal | None = None,
        workers: int = WORKERS,
    ) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._read = read
        self._opening = Lane("opening", self, impatient=True)
        self._saving, self._warming = Lane("saving", self), Lane("warm-up", self)
        for lane, name in ((self._opening, j.OPENING), (self._saving, j.SAVING), (self._warming, j.READY)):
            lane.busy_changed.connect(
                lambda lane=lane, name=name: self._set_busy(name, lane.is_busy, cancellable=name == j.OPENING)
            )
            lane.progressed.connect(lambda step, share, name=name: self._tell(name, step, share))
        self._to_save: dict[str, tuple[str, Work]] = {}
        self._saving.busy_changed.connect(self._save_next)
        self._opening.done.connect(lambda _, answer: answer())
        self._opening.failed.connect(lambda _, error: self._fail(error, CANNOT_OPEN))
        self._saving.done.connect(lambda _, answer: answer())
        self._saving.failed.connect(lambda _, error: self._fail(error, CANNOT_SAVE))
        self._warming.failed.connect(lambda _, error: self._fail(error, "The program could not be made ready"))
        self._watch.changed.connect(self.file_changed)
        self.file_colours = FileColours(self)
        self.changed.connect(lambda: self.file_colours.follow(self.state, known=self.findings is not None))

    # Getting ready, and the end.

    def warm_up(self) -> None:
        """Load the compiled inner loops; for when the window is shown. Workers are started when nothing else runs."""
        if compile_cache.is_cold() and self._pool.prepare():
            self._ready.clear()

        def work(progress: Progress) -> None:
            from ventplanner.app.warming import warm

            if not self._ready.is_set():
                self._pool.prepared.wait(COMPILING_PATIENCE_S)
                self._ready.set()
            warm(progress)
            put_aside()

        self._warming.ask("warm", work)

    def shutdown(self, keep_unsaved: bool = False) -> None:
        """End all threads and workers, and remove their shared memory. keep_unsaved: leave the journal for recovery."""
        if self._is_waiting:
            self._shaper.lane.finish(FIT_PATIENCE_S)  # what was typed is in the journal then
        self._saving.finish(SAVING_PATIENCE_S)
        lanes = (
            self._opening,
            self._saving,
            self._warming,
            self._shaper.lane,
            self._widening,
            self._trying,
            self._moving,
            self._replacing,
            self.hollow_previews.lane,
            *self._analyst.lanes,
            *self._analyst.breathing.lanes,
            *self._analyst.printing.lanes,
            self._analyst.printed_flow.lane,
            self._analyst.sizing.lane,
            self._analyst.looking.lane,
            self.file_colours.lane,
            self._places,
            self._asking,
            self._measuring,
            self._comparing,
            self._sheets,
            self._pouring,
            self._helping,
            self._holding,
            self._orienting,
            self._working_out,
        )
        for lane in lanes:
            lane.close()
        self._ready.set()
        self._pool.close()
        end = time.monotonic() + PATIENCE_S
        for lane in lanes:
            lane.wait(end)
        self._watch.follow({})
        self._journal.close(keep=keep_unsaved and self.is_unsaved)
        log.info("Ended")

    # Files.

    def load_supports(self, path: str) -> None:
        """Mind the supports in a file, as an edit; `failed` tells why a file cannot hold them."""
        state = self.state
        if state is None:
            return
        solid = state.solid

        def work(progress: Progress) -> Callable[[], None]:
            from ventplanner.io.supports import read_supports

            progress("Reading the supports", 0.0)
            supports = read_supports(path, solid, progress)
            return lambda: self._take_supports(supports, solid)

        self._opening.ask(f"supports {path}", work)

    def _take_supports(self, supports: Supports, part: Solid) -> None:
        """Unless another part, or the same in another unit, is at hand by now."""
        if self.state is not None and self.state.solid is part:
            self._edit(lambda state: edits.set_supports(state, supports))

    def remove_supports(self) -> None:
        """Mind no supports any more."""
        self._edit(lambda state: edits.set_supports(state, None))

    def open(self, path: str, unit: str | None = None) -> None:
        """Open a part, or a plan file with its part. The work at hand stays until that has been read."""
        path = str(Path(path).absolute())  # work is recovered from any folder
        read, moves = self._read, self._moves

        def work(progress: Progress) -> Callable[[], None]:
            opened = read(path, unit, progress)
            return lambda: self._begin_unless_at_work(opened, moves)

        self._opening.ask(f"open {path} {unit}", work)

    def close_part(self) -> None:
        """Close the part; unsaved work is lost."""
        self._leave_drag()
        self._opening.stop()
        self.file_colours.offered_for = ""
        for order in (EXPORTING, CLOSING, HOLLOWING, MENDING):
            self._pool.cancel(order)
        self._watch.follow({})
        self._end()
        self.part_changed.emit()
        self._tell_all()

    def reload(self, path: str = "") -> None:
        """Read a file again (default: the one that was opened), as an edit; undo brings all back as it was.

        Of a part the plan is kept. A plan that was changed on disk is taken as a whole.
        """
        self._analyst.retry()
        path = path or self._path
        if files.is_plan(path) and self._watch.is_news(path):
            self._read_plan_again(path)
        elif path == self._path:
            self._read_again(self.state.unit if self.state is not None else None, "reload", _as_part)

    def set_unit(self, unit: str) -> None:
        """Take the file in another unit."""
        given = self.state.supports if self.state is not None else None

        def prepare(solid: Solid, progress: Progress) -> Callable[[AppState], Edit]:
            from ventplanner.io.supports import in_unit_of

            again = in_unit_of(given, solid, progress)
            # Other supports by now: they were read in the unit before.
            return lambda state: edits.set_unit(state, solid, again if state.supports == given else None)

        self._read_again(unit, f"unit {unit}", prepare)

    def save(self, path: str) -> None:
        """Save the work in a plan file, with what was typed before; an existing file is replaced."""
        self._after_fit(lambda: self._save(path))

    def _save(self, path: str) -> None:
        state, analyst = self.state, self._analyst
        if state is None:
            return
        missing = analyst.proposals.missing if analyst.proposals is not None else ()
        work_key = self._work_key(state)

        def work(progress: Progress) -> Callable[[], None]:
            from ventplanner.io.project import save_plan

            progress("Saving", 0.0)
            save_plan(path, to_saved(state, missing), overwrite=True)
            stamp = files.stamp_of(path)
            return lambda: self._saved(path, work_key, stamp)

        self._to_save.pop(path, None)
        self._to_save[path] = (f"save {path} {work_key}", work)
        self._save_next()

    def _save_next(self) -> None:
        """Save what waits, one file after the other; of several wishes for one file only the last counts."""
        if self._to_save and not self._saving.is_busy:
            self._saving.ask(*self._to_save.pop(next(iter(self._to_save))))

    def cancel(self) -> None:
        """Cancel the job that is shown, if that is possible; `said` tells what that means."""
        job = self.job
        if job is None or not job.cancellable:
            return
        analyst = self._analyst
        if job.name == j.EXPORT:
            self._pool.cancel(EXPORTING)  # what came of it is told when the worker has come to rest
        elif job.name == j.SHEET:
            self.cancel_sheet()
        elif job.name == j.CLOSING:
            self.cancel_closing()
        elif job.name == j.HOLLOWING:
            self.cancel_hollowing()
        elif job.name == j.MENDING:
            self.cancel_mending()
        elif job.name == j.OPENING:
            self._opening.stop()
            kept = "What was open stays as it is" if self.state is not None else "Nothing was opened"
            self.said.emit(f"Reading the file was cancelled. {kept}.")
        elif job.name == j.ANALYSIS:
            analyst.cancel(analyst.analysis)
            self.said.emit("The analysis was cancelled.")
        elif job.name == j.PROPOSALS:
            analyst.cancel(analyst.proposing)
            self.said.emit("Looking for vents was cancelled. The cavities are known all the same.")
        elif job.name in (j.PRINTED, j.SIZES):
            self.said.emit(analyst.printing.cancel())
        elif job.name == j.POURING:
            self.cancel_pour()
        elif job.name == j.HELPING:
            self.cancel_help()
        elif job.name == j.ORIENTING:
            self.cancel_orienting()
        elif job.name == j.PICTURE:
            analyst.cutting.cancel()
            self.said.emit("Cancelled: the picture shows the vents as drills. An export drills them all the same.")
        self.plan_changed.emit()
        self._tell_changed()

    def analyse_again(self) -> None:
        """Begin again what was cancelled or failed: the analysis, or looking for vents."""
        self._analyst.retry()
        self._tell_changed()

    def recoverable(self) -> tuple[Abandoned, ...]:
        """Work that earlier runs of the program left behind when they were ended by force, the latest first."""
        return abandoned()

    def recover(self, journal: Abandoned) -> None:
        """Go on with such work; its journal is kept until it can be read."""

        def work(progress: Progress) -> Callable[[], None]:
            opened = files.read_abandoned(journal, progress)

            def begin() -> None:
                self._begin(opened)
                self._journal.take_over(journal)

            return begin

        self._opening.ask(f"recover {journal.file}", work)

    def _begin_unless_at_work(self, opened: files.Opened, moves: int) -> None:
        """Begin, unless something was decided while the file was being read: that would be lost unasked.

        Cavities named anew by an analysis that came meanwhile are no decision.
        """
        self._after_fit(lambda: self._begin_or_refuse(opened, moves))

    def _begin_or_refuse(self, opened: files.Opened, moves: int) -> None:
        if self.is_unsaved and self._moves != moves:
            text = f"{Path(opened.path).name} was not opened: the work on the part went on meanwhile."
            self._fail(InputError(text, "Save the plan or discard it, then open the file again."), "Not opened")
            return
        self._begin(opened)

    def _begin(self, opened: files.Opened) -> None:
        super()._begin(opened)
        self._follow_files({opened.path: opened.stamp})
        self._last_export = None

    def _follow_files(self, stamps: Mapping[str, files.Stamp | None]) -> None:
        """Watch the file that was opened and the plan that the work is saved in."""
        self._watch.follow({path: stamps.get(path) for path in (self._path, self._plan_path)})

    def _read_again(self, unit: str | None, key: str, prepare: Prepare) -> None:
        path = self._path
        if self.state is None or not path:
            return

        read = self._read

        def work(progress: Progress) -> Callable[[], None]:
            opened = read(path, unit, progress)
            edit = prepare(opened.state.solid, progress)
            return lambda: self._take_part(opened, edit)

        self._opening.ask(f"{key} {path}", work)

    def _take_part(self, opened: files.Opened, edit: Callable[[AppState], Edit]) -> None:
        """The file as it is now has been read; another one may have been opened meanwhile."""
        if opened.path == self._path:
            self._follow_files({opened.path: opened.stamp})
            self._edit(edit)

    def _read_plan_again(self, path: str) -> None:
        read = self._read

        def work(progress: Progress) -> Callable[[], None]:
            opened = read(path, None, progress)
            return lambda: self._after_fit(lambda: self._take_plan(opened))

        self._opening.ask(f"plan {path}", work)

    def _take_plan(self, opened: files.Opened) -> None:
        """A plan as it is on disk now: the work is what it holds, and saved."""
        state = self.state
        if state is None or opened.path not in (self._path, self._plan_path):
            return
        edit = edits.set_plan(state, opened.state)
        self._plan_path = opened.path
        self._kept_key = wish_key(edit.state)
        self._follow_files({opened.path: opened.stamp})
        self._did(edit)
        self._write_journal()

    def _saved(self, path: str, key: str, stamp: files.Stamp | None = None) -> None:
        self._watch.seen(path, stamp)
        if self._is_this_part(key):
            self._plan_path = path
            self._follow_files({path: stamp})
        self._keep_as(key)
        self.saved.emit(path)


def _as_part(solid: Solid, _progress: Progress) -> Callable[[AppState], Edit]:
    return lambda state: edits.set_part(state, solid)
