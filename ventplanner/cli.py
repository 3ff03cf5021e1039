"""The command line. Options are built from `parameters`; results and messages never mix (stdout, stderr)."""

from __future__ import annotations

import argparse
import os
import signal
import sys
from collections.abc import Sequence
from dataclasses import replace
from itertools import chain
from types import FrameType
from typing import TYPE_CHECKING, Any, NoReturn

from ventplanner import __version__
from ventplanner import hollow_parameters as h
from ventplanner import mend_parameters as m
from ventplanner import parameters as p
from ventplanner import profile_parameters as b
from ventplanner.errors import Cancelled, FileWriteError, InputError, ParameterError, VentplannerError
from ventplanner.progress import Progress, silent

if TYPE_CHECKING:
    from ventplanner.app.jobs import Wish

DONE, FAILED, BAD_INPUT, SOMETHING_LEFT = 0, 1, 2, 3
JOBS = ("inspect", "vent", "hollow", "mend")
_WHICH_JOBS = "The jobs are inspect, vent, hollow and mend. See: --help"

_Any = p.Parameter[Any]

_PART: tuple[_Any, ...] = (p.UNIT, p.TO_PLATE, p.ON, p.GAP_MM)
_LOOK: tuple[_Any, ...] = (
    p.PITCH_MM,
    p.LAYER_MM,
    p.IGNORE_BELOW_MM3,
    p.IGNORE_UNDER_MM,
    p.LATE_MM,
    p.LATE_MM3,
    p.NESTED,
)
_VENTS: tuple[_Any, ...] = (
    p.DIAMETER_MM,
    p.SIZE,
    p.LEAST_MM,
    p.VENTS_PER_CAVITY,
    p.LONGEST_WALL_MM,
    p.PREFER,
    p.SEEN_FROM,
)
_JOIN: tuple[_Any, ...] = (p.PASSAGES, p.PASSAGE_WALL_MM)

_INSIDE: tuple[_Any, ...] = (p.THIN_MM, p.OVERHANG_DEG)

_BENCH: tuple[_Any, ...] = (b.VISCOSITY, b.LIFT_SPEED, b.LOWER_SPEED)

_EXITS = """exit codes:
  0  done, nothing is left to do (hollow: the part is written, and needs vents)
  3  done, something is left to do (inspect: a cavity is sealed or late; mend: damage is left)
  2  bad input or usage
  1  failed, cancelled or not verified: no file was changed"""


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


class _Parser(argparse.ArgumentParser):
    """One line for each mistake, in our own words and with our exit code."""

    def error(self, message: str) -> NoReturn:
        raise ParameterError(f"{message[:1].upper()}{message[1:]}.", f"See: {self.prog} --help")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="ventplanner",
        usage="ventplanner [FILE]\n       ventplanner {inspect,vent,hollow,mend} FILE ...",
        description="Find every hollow of a resin print that cannot breathe, place the vents,\ndrill and verify them.",
        epilog="ventplanner [FILE] opens the window, with FILE in it.\n"
        f"ventplanner inspect --help, vent --help, hollow --help and mend --help list the options.\n\n{_EXITS}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"ventplanner {__version__}")
    jobs = parser.add_subparsers(title="jobs", metavar="{inspect,vent,hollow,mend}", required=True)
    inspect = _job(jobs, "inspect", "show every cavity and cup, and what is the matter")
    inspect.set_defaults(job=_inspect)
    vent = _job(jobs, "vent", "propose vents, drill them, write the part and verify it")
    files = vent.add_argument_group("files")
    files.add_argument("--out", required=True, metavar="OUT", help="file to write: .stl, .3mf, .obj or .ply")
    files.add_argument("--overwrite", action="store_true", help="replace OUT and the saved plan where they exist")
    files.add_argument("--save", metavar="PLAN", help="save part, pose, options, profile and vents as a .ventplan file")
    files.add_argument("--plan", metavar="PLAN", help="drill the vents of a saved plan instead of proposing new ones")
    _add(vent.add_argument_group("vents"), _VENTS)
    _add(vent.add_argument_group("passages"), _JOIN)
    vent.set_defaults(job=_vent)
    _hollow_job(jobs)
    _mend_job(jobs)
    return parser


def _hollow_job(jobs: argparse._SubParsersAction[_Parser]) -> None:
    job = _bare_job(jobs, "hollow", "hollow a solid part: an even wall, smooth inside, nothing in it in mid-air")
    files = job.add_argument_group("files")
    files.add_argument("--out", required=True, metavar="OUT", help="file to write: .stl, .3mf, .obj or .ply")
    files.add_argument("--overwrite", action="store_true", help="replace OUT where it exists")
    _add(job.add_argument_group("part and pose"), _PART)
    group = job.add_argument_group("hollow")
    _add(group, tuple(h.HOLLOW_PARAMETERS.values()))
    keep = "under what it stays solid: a colour of FILE, or another file of the part in which that is painted"
    group.add_argument("--keep-solid", metavar="COLOUR|FILE", help=keep)
    about = "JSON file of a profile, for the density of the resin (resources/profile-format.md)"
    job.add_argument_group("printer and resin").add_argument("--profile", metavar="PROFILE", help=about)
    job.set_defaults(job=_hollow)


def _mend_job(jobs: argparse._SubParsersAction[_Parser]) -> None:
    job = _bare_job(
        jobs, "mend", "mend a damaged part: closed, its cavities kept, and every change told with its place"
    )
    files = job.add_argument_group("files")
    files.add_argument("--out", required=True, metavar="OUT", help="file to write: .stl, .3mf, .obj or .ply")
    files.add_argument("--overwrite", action="store_true", help="replace OUT where it exists")
    group = job.add_argument_group("mending")
    _add(group, (p.UNIT, *m.MEND_PARAMETERS.values(), p.NESTED))
    steps = "; ".join(f"{name} {what}" for name, what in m.STEPS.items())
    group.add_argument("--without", action="append", metavar="STEP", help=f"leave out a step, repeatable: {steps}")
    job.set_defaults(job=_mend)


def _bare_job(jobs: argparse._SubParsersAction[_Parser], name: str, text: str) -> argparse.ArgumentParser:
    """A parser with what every job has."""
    parser = jobs.add_parser(
        name,
        help=text,
        description=f"{text[:1].upper()}{text[1:]}.",
        epilog=_EXITS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="STL, 3MF, OBJ, PLY or OFF file, or a .ventplan file")
    parser.add_argument("--json", action="store_true", help="print one JSON object (resources/json-format.md)")
    return parser


def _job(jobs: argparse._SubParsersAction[_Parser], name: str, text: str) -> argparse.ArgumentParser:
    """A parser with the options that `inspect` and `vent` have."""
    parser = _bare_job(jobs, name, text)
    _add(parser.add_argument_group("part and pose"), _PART)
    keep = (
        "where no vent may be: a colour of FILE, such as #ff0000; or another file of the part in which that is painted"
    )
    keep += "; or a .ventplan file in which it is marked (default: what is marked in the saved plan, if there is one)"
    parser.add_argument("--keep-clear", metavar="COLOUR|FILE", help=keep)
    about = "file of supports in the unit and axes of FILE, which no vent may touch or look at; they are not written"
    parser.add_argument("--supports", metavar="SUPPORTS", help=f"{about} (default: those of the plan, if it has some)")
    _add(parser.add_argument_group("analysis"), (*_LOOK, *_INSIDE))
    bench = parser.add_argument_group("printer and resin")
    about = "JSON file of a profile (resources/profile-format.md; default: that of the plan, if it keeps one)"
    bench.add_argument("--profile", metavar="PROFILE", help=about)
    _add(bench, _BENCH)
    return parser


def _add(group: argparse._ArgumentGroup, parameters: Sequence[_Any]) -> None:
    for parameter in parameters:
        metavar = "X,Y,Z" if parameter.kind == "direction" else (parameter.unit or "N").upper()
        if parameter.kind == "choice":
            metavar = "|".join(parameter.choices)
        group.add_argument(parameter.flag, dest=parameter.name, metavar=metavar, help=parameter.help.replace("%", "%%"))


def _direction_joined(given: list[str]) -> list[str]:
    """`--to-plate -1,0,0` as `--to-plate=-1,0,0`: a value that begins with a minus is no option."""
    joined: list[str] = []
    for word in given:
        if joined and joined[-1] in (p.TO_PLATE.flag, p.SEEN_FROM.flag):
            joined[-1] += f"={word}"
        else:
            joined.append(word)
    return joined


def _wish(asked: argparse.Namespace) -> Wish:
    from ventplanner.app import jobs

    plan = getattr(asked, "plan", None)
    holds_plan = plan is not None or jobs.is_plan(asked.file)
    fixed = (*_PART[1:], *_LOOK, *_VENTS, *_JOIN) if holds_plan and asked.job is _vent else ()
    if jobs.is_plan(asked.file):
        fixed = (p.UNIT, *fixed)
    for parameter in fixed:
        if getattr(asked, parameter.name, None) is not None:
            raise ParameterError(f"{parameter.flag} is already settled by the saved plan.", "Leave one of them out.")

    unit = None if asked.unit is None else p.UNIT.parse(asked.unit)
    pose, options, rules = _values(asked, _PART[1:]), _values(asked, _LOOK), _values(asked, (*_VENTS, *_JOIN))
    bench = {"profile_path": asked.profile, "profile": _values(asked, _BENCH)}
    wish = jobs.wish(asked.file, plan, unit, pose=pose, options=options, rules=rules, **bench)
    limits = replace(wish.limits, **_values(asked, _INSIDE))  # type: ignore[arg-type]  # each checks its own type
    return replace(wish, keep_clear=asked.keep_clear, supports=asked.supports, limits=limits)


def _values(asked: argparse.Namespace, parameters: Sequence[_Any]) -> dict[str, object]:
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

    wish, more = _wish(asked), {"overwrite": asked.overwrite, "save": asked.save}
    done = jobs.vent(wish, asked.out, progress=_progress(), whole_report=asked.json, **more)
    after = done.exported.after
    told = report.left_after(done.plan, after), report.left_as_printed(done.plan, done.printed), done.in_the_way
    left = tuple(chain.from_iterable(told))
    flows, demands = (done.flow, done.flow_after, done.flow_printed), (done.demands, done.advice)
    result = report.venting(done.findings, done.plan, after, left, True, flows, done.printed, demands)
    result["inside"] = inside_report.inside_json(done.inside, done.findings.scene.frame)
    if asked.json:
        text = report.to_text(report.with_alternatives(result, done.others))
    else:
        text = summary.venting_text(result, asked.out, asked.save)
    _print(text, f"{asked.out} was written and verified before that.")
    return SOMETHING_LEFT if left else DONE


def _hollow(asked: argparse.Namespace) -> int:
    from ventplanner.app.hollowing import hollow_file
    from ventplanner.app.jobs import wish
    from ventplanner.hollowing.rules import HollowRules
    from ventplanner.io import hollow_report, report

    unit = None if asked.unit is None else p.UNIT.parse(asked.unit)
    wanted = wish(asked.file, None, unit, pose=_values(asked, _PART[1:]), profile_path=asked.profile)
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
    rules = MendRules(without=frozenset(asked.without or ()), **given)  # type: ignore[arg-type]  # as _limits
    wanted = wish(asked.file, None, unit)
    done = mend_file(wanted, asked.out, rules, overwrite=asked.overwrite, progress=_progress()).done
    result = mend_report.mend_json(done)
    text = report.to_text(result) if asked.json else mend_report.mend_text(result, asked.out)
    _print(text, f"{asked.out} was written before that.")
    return SOMETHING_LEFT if done.left else DONE


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
