"""The command line: the jobs of `cli_options` carried out; results and messages never mix (stdout, stderr)."""

from __future__ import annotations

import argparse
import os
import signal
import sys
from collections.abc import Sequence
from dataclasses import replace
from itertools import chain
from types import FrameType
from typing import TYPE_CHECKING, NoReturn

from ventplanner import hollow_parameters as h
from ventplanner import mend_parameters as m
from ventplanner import orient_parameters as o
from ventplanner import parameters as p
from ventplanner import sheet_parameters as s
from ventplanner.cli_options import BENCH, INSIDE, JOIN, LOOK, PART, VENTS, Any_, parser_of
from ventplanner.errors import Cancelled, FileWriteError, InputError, ParameterError, VentplannerError
from ventplanner.progress import Progress, silent

if TYPE_CHECKING:
    from ventplanner.app.jobs import Vented, Wish

DONE, FAILED, BAD_INPUT, SOMETHING_LEFT = 0, 1, 2, 3
JOBS = ("inspect", "vent", "hollow", "mend", "drain", "orient")
_WHICH_JOBS = "The jobs are inspect, vent, hollow, mend, drain and orient. See: --help"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit code."""
    if arguments is None:  # a process of its own: asked to stop, it removes its unfinished files
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, _stop)
    given = _direction_joined(list(sys.argv[1:] if arguments is None else arguments))
    try:
        if not given or (given[0] not in JOBS and not given[0].startswith("-")):
            return _window(given)
        asked = _parser().parse_args(given)
        code: int = asked.job(asked)
    except InputError as error:
        return _say(str(error), BAD_INPUT)
    except VentplannerError as error:
        return _say(str(error), FAILED)
    except MemoryError:
        return _say("There is not enough memory for this part. Give a coarser --pitch.", FAILED)
    except OSError as error:
        return _say(f"The system refused: {error}. Check the path and the disk.", FAILED)
    except KeyboardInterrupt:
        return _say(str(Cancelled()), FAILED)
    return code


class _Stopped(KeyboardInterrupt):
    """Python notes every plain `KeyboardInterrupt` that leaves an `exec`, and ends by the signal, caught or not."""


def _stop(_number: int, _frame: FrameType | None) -> NoReturn:
    raise _Stopped


def _window(paths: list[str]) -> int:
    """Open the window, with a file in it if one is given; jobs never come here."""
    instead = "Without a window: ventplanner vent FILE --out OUT, or: ventplanner inspect FILE"
    if len(paths) > 1 and not os.path.exists(paths[0]) and not os.path.splitext(paths[0])[1]:  # noqa: PTH110, PTH122
        raise ParameterError(
            f"There is no job called {paths[0]:.40}.",
            _WHICH_JOBS,
        )
    if len(paths) > 1:
        raise ParameterError(f"The window opens one file, not {len(paths)}.", "See: ventplanner --help")
    if paths and not os.path.exists(paths[0]):  # noqa: PTH110 - pathlib is not needed for anything else here
        raise ParameterError(f"There is no file {paths[0]:.80}.", "Check the path. See: ventplanner --help")
    if sys.platform.startswith("linux") and not any(map(os.environ.get, ("DISPLAY", "WAYLAND_DISPLAY", _PLATFORM))):
        raise ParameterError("There is no screen to show the window on.", instead)
    try:
        from ventplanner.ui.main import run
    except ImportError as error:  # Qt is there, but a library of the system is not
        raise ParameterError(
            f"The window cannot be loaded ({error}).", f"Install what is missing. {instead}"
        ) from error
    return run(paths)


_PLATFORM = "QT_QPA_PLATFORM"


def _parser() -> argparse.ArgumentParser:
    return parser_of(
        {"inspect": _inspect, "vent": _vent, "hollow": _hollow, "mend": _mend, "drain": _drain, "orient": _orient}
    )


def _direction_joined(given: list[str]) -> list[str]:
    """`--to-plate -1,0,0` as `--to-plate=-1,0,0`: a value that begins with a minus is no option."""
    joined: list[str] = []
    for word in given:
        if joined and joined[-1] in (p.TO_PLATE.flag, p.SEEN_FROM.flag, p.HOLD.flag):
            joined[-1] += f"={word}"
        else:
            joined.append(word)
    return joined


def _wish(asked: argparse.Namespace) -> Wish:
    from ventplanner.app import jobs

    plan = getattr(asked, "plan", None)
    holds_plan = plan is not None or jobs.is_plan(asked.file)
    fixed = (*PART[1:], *LOOK, *VENTS, *JOIN) if holds_plan and asked.job in (_vent, _drain) else ()
    if jobs.is_plan(asked.file):
        fixed = (p.UNIT, *fixed)
    for parameter in fixed:
        if getattr(asked, parameter.name, None) is not None:
            raise ParameterError(f"{parameter.flag} is already settled by the saved plan.", "Leave one of them out.")

    unit = None if asked.unit is None else p.UNIT.parse(asked.unit)
    pose, options, rules = _values(asked, PART[1:]), _values(asked, LOOK), _values(asked, (*VENTS, *JOIN))
    bench = {"profile_path": asked.profile, "profile": _values(asked, BENCH)}
    wish = jobs.wish(asked.file, plan, unit, pose=pose, options=options, rules=rules, **bench)
    limits = replace(wish.limits, **_values(asked, INSIDE))  # type: ignore[arg-type]  # each checks its own type
    return replace(wish, keep_clear=asked.keep_clear, supports=asked.supports, limits=limits)


def _values(asked: argparse.Namespace, parameters: Sequence[Any_]) -> dict[str, object]:
    """Those of some parameters that were given, by name."""
    given = ((q, getattr(asked, q.name, None)) for q in parameters)
    return {q.name: q.parse(text) for q, text in given if text is not None}


def _inspect(asked: argparse.Namespace) -> int:
    from ventplanner.app import jobs
    from ventplanner.io import report, summary

    done = jobs.inspect(_wish(asked), _progress(), printed_cups=asked.json)
    result = report.inspection(done.findings, done.flow, done.printed, done.advice, done.inside)
    result["left"] += done.in_the_way
    _print(report.to_text(result) if asked.json else summary.inspection_text(result))
    return SOMETHING_LEFT if result["left"] else DONE


def _vent(asked: argparse.Namespace) -> int:
    from ventplanner.app import jobs
    from ventplanner.io import inside_report, report, summary

    also = _sheets(asked)
    wish, more = _wish(asked), {"overwrite": asked.overwrite, "save": asked.save, "also": also}
    done = jobs.vent(wish, asked.out, progress=_progress(), whole_report=asked.json, **more)
    after = done.exported.after
    told = report.left_after(done.plan, after), report.left_as_printed(done.plan, done.printed), done.in_the_way
    left = tuple(chain.from_iterable(told))
    flows, demands = (done.flow, done.flow_after, done.flow_printed), (done.demands, done.advice)
    result = report.venting(done.findings, done.plan, after, left, True, flows, done.printed, demands)
    result["inside"] = inside_report.inside_json(done.inside, done.findings.scene.frame)
    if also:
        _write_sheets(asked, wish, done, result)
    if asked.json:
        text = report.to_text(report.with_alternatives(result, done.others))
    else:
        text = summary.venting_text(result, asked.out, asked.save)
    _print(text, f"{asked.out} was written and verified before that.")
    return SOMETHING_LEFT if left else DONE


def _sheets(asked: argparse.Namespace) -> tuple[str, ...]:
    """The files of the sheet that are asked for; their names are known to be good."""
    also = tuple(path for path in (asked.sheet, asked.table) if path is not None)
    if asked.paper is not None:
        s.PAPER.parse(asked.paper.lower())
        if asked.sheet is None or not asked.sheet.lower().endswith(".pdf"):
            raise ParameterError(f"{s.PAPER.flag} is of a sheet that is written as PDF.", "Give --sheet with a .pdf.")
    if asked.lengths is not None:
        s.LENGTHS.parse(asked.lengths)
        if asked.sheet is None:
            raise ParameterError(f"{s.LENGTHS.flag} is of a sheet.", "Give --sheet.")
    if also:
        from ventplanner.app.bench_sheet import check_names

        check_names(asked.sheet, asked.table)
    return also


def _write_sheets(asked: argparse.Namespace, wish: Wish, done: Vented, result: dict[str, object]) -> None:
    from ventplanner.app.bench_sheet import job_of, write_sheet, write_table

    try:
        if asked.sheet is not None:
            paper = s.PAPER.parse((asked.paper or s.PAPER.default).lower())
            lengths = s.LENGTHS.parse(asked.lengths or s.LENGTHS.default)
            job = job_of(done, result, wish.profile, _progress())
            write_sheet(job, asked.sheet, paper, overwrite=asked.overwrite, lengths=lengths)
        if asked.table is not None:
            write_table(result, asked.table, overwrite=asked.overwrite)
    except FileWriteError as error:
        raise FileWriteError(
            f"{error.cause} {asked.out} was written and verified before that.", error.way_out
        ) from error


def _hollow(asked: argparse.Namespace) -> int:
    from ventplanner.app.hollowing import hollow_file
    from ventplanner.app.jobs import wish
    from ventplanner.hollowing.rules import HollowRules
    from ventplanner.io import hollow_report, report

    unit = None if asked.unit is None else p.UNIT.parse(asked.unit)
    wanted = wish(asked.file, None, unit, pose=_values(asked, PART[1:]), profile_path=asked.profile)
    rules = HollowRules(**_values(asked, tuple(h.HOLLOW_PARAMETERS.values())))  # type: ignore[arg-type]  # each checks its own type
    more = {"keep_solid": asked.keep_solid, "overwrite": asked.overwrite}
    done = hollow_file(wanted, asked.out, rules, progress=_progress(), **more).done
    result = hollow_report.hollow_json(done, wanted.profile.density_kg_m3)
    text = report.to_text(result) if asked.json else hollow_report.hollow_text(result, asked.out)
    _print(text, f"{asked.out} was written before that.")
    return DONE


def _mend(asked: argparse.Namespace) -> int:
    from ventplanner.app.jobs import wish
    from ventplanner.app.mending import mend_file
    from ventplanner.io import mend_report, report
    from ventplanner.mending.rules import MendRules

    unit = None if asked.unit is None else p.UNIT.parse(asked.unit)
    given = _values(asked, (*m.MEND_PARAMETERS.values(), p.NESTED))
    rules = MendRules(without=frozenset(asked.without or ()), redraw=asked.redraw, **given)  # type: ignore[arg-type]
    wanted = wish(asked.file, None, unit)
    done = mend_file(wanted, asked.out, rules, overwrite=asked.overwrite, progress=_progress()).done
    result = mend_report.mend_json(done)
    text = report.to_text(result) if asked.json else mend_report.mend_text(result, asked.out)
    _print(text, f"{asked.out} was written before that.")
    return SOMETHING_LEFT if done.left else DONE


def _drain(asked: argparse.Namespace) -> int:
    from ventplanner.app.drain_text import drain_text
    from ventplanner.app.draining import CAUTIONS, drain_part
    from ventplanner.io import drain_report, report

    downs = tuple(p.HOLD.parse(text) for text in asked.hold or ())
    part = drain_part(_wish(asked), _progress(), downs)
    if asked.json:
        taken = report.assumptions(part.findings)
        words = drain_report.Words(part.moves, part.reasons, part.advice, CAUTIONS, taken)
        path = part.findings.solid.source.path
        _print(report.to_text(drain_report.drain_json(path, part.done, part.reached, part.changes, words)))
    else:
        _print(drain_text(part))
    return SOMETHING_LEFT if part.is_left else DONE


def _orient(asked: argparse.Namespace) -> int:
    from ventplanner.app.orienting import orient_part, orient_text
    from ventplanner.io import report
    from ventplanner.io.orient_report import orient_json
    from ventplanner.orienting.model import Wanted

    wanted = Wanted(**_values(asked, tuple(o.ORIENT_PARAMETERS.values())))  # type: ignore[arg-type]  # as _limits
    done = orient_part(_wish(asked), wanted, _progress())
    path, pitch = done.findings.solid.source.path, done.findings.scene.resolution.pitch_mm
    _print(report.to_text(orient_json(path, done.found, pitch, done.notes)) if asked.json else orient_text(done))
    return DONE


def _progress() -> Progress:
    """Progress on a terminal: one line that is overwritten, and a word before the first start's compilation."""
    from ventplanner import compile_cache

    if not _on_terminal():
        return silent
    if compile_cache.is_cold():
        print("First start: the inner loops are compiled, once; some seconds.", file=sys.stderr)

    def show(phase: str, share: float) -> None:
        text = "" if share >= 1.0 else f"{phase[:1].upper()}{phase[1:]}: {100 * share:.0f} %"
        print(f"{_CLEAR_LINE}{text}", end="", file=sys.stderr, flush=True)

    return show


_CLEAR_LINE = "\r\x1b[K"


def _on_terminal() -> bool:
    return sys.stderr is not None and sys.stderr.isatty()


def _print(text: str, before_failure: str = "") -> None:
    """The result on standard output, whatever its encoding. FileWriteError if it cannot be written there.

    A reader that stops reading early, such as `head`, is no failure.
    """
    out = sys.stdout
    if _on_terminal():
        print(_CLEAR_LINE, end="", file=sys.stderr, flush=True)
    if out is None:  # closed by the caller
        return
    encoding = out.encoding or "utf-8"
    # Names in files may hold anything, also what would command the terminal.
    text = "".join(c if c.isprintable() or c == "\n" else "?" for c in text)
    try:
        print(text.encode(encoding, "backslashreplace").decode(encoding), file=out, flush=True)
    except OSError as error:
        # What is still in the buffer must not be tried again at the end of the process.
        os.dup2(os.open(os.devnull, os.O_WRONLY), out.fileno())
        if not isinstance(error, BrokenPipeError):
            cause = f"The result cannot be written to the standard output ({error.strerror})."
            raise FileWriteError(cause, before_failure or "Send it elsewhere.") from error


def _say(text: str, code: int) -> int:
    """One line on the standard error, without the control characters that a file name may hold."""
    line = "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))
    if sys.stderr is not None:
        print(f"{_CLEAR_LINE if _on_terminal() else ''}{line}", file=sys.stderr)
    return code
