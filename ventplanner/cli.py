"""The command line. Options are built from `parameters`; results and messages never mix (stdout, stderr)."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, NoReturn

from ventplanner import __version__
from ventplanner import parameters as p
from ventplanner.errors import Cancelled, InputError, ParameterError, VentplannerError
from ventplanner.progress import Progress, silent

if TYPE_CHECKING:
    from ventplanner.app.jobs import Wish

DONE, FAILED, BAD_INPUT, SOMETHING_LEFT = 0, 1, 2, 3

_PART = (p.UNIT, p.TO_PLATE, p.ON, p.GAP_MM)
_LOOK = (p.PITCH_MM, p.LAYER_MM, p.IGNORE_BELOW_MM3, p.IGNORE_UNDER_MM, p.LATE_MM, p.LATE_MM3, p.NESTED)
_VENTS = (p.DIAMETER_MM, p.VENTS_PER_CAVITY, p.LONGEST_WALL_MM)

_EXITS = """exit codes: 0 done, nothing left to do; 3 done, something is left (inspect: a cavity is sealed or late);
2 bad input or usage; 1 failed or not verified, nothing was written."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit code."""
    given = _direction_joined(list(sys.argv[1:] if arguments is None else arguments))
    # A file alone opens the window.
    if not given or (given[0] not in ("inspect", "vent") and not given[0].startswith("-")):
        return _say(
            "There is no window yet. Use: ventplanner vent FILE --out OUT, or: ventplanner inspect FILE", BAD_INPUT
        )
    try:
        asked = _parser().parse_args(given)
        code: int = asked.job(asked)
    except InputError as error:
        return _say(str(error), BAD_INPUT)
    except VentplannerError as error:
        return _say(str(error), FAILED)
    except KeyboardInterrupt:
        return _say(str(Cancelled()), FAILED)
    return code


class _Parser(argparse.ArgumentParser):
    """One line for each mistake, in our own words and with our exit code."""

    def error(self, message: str) -> NoReturn:
        raise ParameterError(f"{message[:1].upper()}{message[1:]}.", f"See: {self.prog} --help")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="ventplanner",
        description="Find every hollow of a resin print that cannot breathe, place the vents, drill and verify them.",
        epilog=f"ventplanner FILE opens the window (not there yet). {_EXITS}",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"ventplanner {__version__}")
    jobs = parser.add_subparsers(metavar="{inspect,vent}", required=True)
    inspect = jobs.add_parser("inspect", help="show cavities, cups and what is the matter", allow_abbrev=False)
    _common(inspect)
    inspect.set_defaults(job=_inspect)
    vent = jobs.add_parser("vent", help="propose vents, drill them, write and verify", allow_abbrev=False)
    _common(vent)
    vent.add_argument("--out", required=True, metavar="OUT", help="file to write: .stl, .3mf, .obj or .ply")
    vent.add_argument("--overwrite", action="store_true", help="replace OUT (or the saved plan) if it exists")
    vent.add_argument("--save", metavar="PLAN", help="save the work as a .ventplan file")
    vent.add_argument(
        "--plan", metavar="PLAN", help="drill the vents of a saved plan, in its pose, instead of proposing"
    )
    _add(vent.add_argument_group("vents"), _VENTS)
    vent.set_defaults(job=_vent)
    return parser


def _common(parser: argparse.ArgumentParser) -> None:
    parser.epilog = _EXITS
    parser.add_argument("file", metavar="FILE", help="STL, 3MF, OBJ, PLY or OFF file, or a .ventplan file")
    parser.add_argument("--json", action="store_true", help="one JSON object on standard output")
    _add(parser.add_argument_group("part and pose"), _PART)
    _add(parser.add_argument_group("analysis"), _LOOK)


def _add(group: argparse._ArgumentGroup, parameters: Sequence[p.Parameter[object] | p.Parameter]) -> None:  # type: ignore[type-arg]
    for parameter in parameters:
        metavar = "X,Y,Z" if parameter.kind == "direction" else (parameter.unit or parameter.kind).upper()
        if parameter.kind == "choice":
            metavar = "|".join(parameter.choices)
        group.add_argument(parameter.flag, dest=parameter.name, metavar=metavar, help=parameter.help.replace("%", "%%"))


def _direction_joined(given: list[str]) -> list[str]:
    """`--to-plate -1,0,0` as `--to-plate=-1,0,0`: a value that begins with a minus is no option."""
    joined: list[str] = []
    for word in given:
        if joined and joined[-1] == p.TO_PLATE.flag:
            joined[-1] += f"={word}"
        else:
            joined.append(word)
    return joined


def _wish(asked: argparse.Namespace) -> Wish:
    from ventplanner.app.jobs import Wish, with_saved_circumstances
    from ventplanner.geometry.pose import Pose
    from ventplanner.options import AnalysisOptions, VentRules

    def values(parameters: Sequence[p.Parameter]) -> dict[str, object]:  # type: ignore[type-arg]
        given = ((q, getattr(asked, q.name, None)) for q in parameters)
        return {q.name: q.parse(text) for q, text in given if text is not None}

    pose = Pose(**values(_PART[1:]))  # type: ignore[arg-type]
    options = AnalysisOptions(**values(_LOOK))  # type: ignore[arg-type]
    rules = VentRules(**values(_VENTS))  # type: ignore[arg-type]
    unit = None if asked.unit is None else p.UNIT.parse(asked.unit)
    return with_saved_circumstances(Wish(asked.file, unit, pose, options, rules, getattr(asked, "plan", None)))


def _inspect(asked: argparse.Namespace) -> int:
    from ventplanner.app import jobs
    from ventplanner.io import report, summary

    findings = jobs.inspect(_wish(asked), _progress())
    result = report.inspection(findings)
    _print(report.to_text(result) if asked.json else summary.inspection_text(result))
    return SOMETHING_LEFT if findings.left else DONE


def _vent(asked: argparse.Namespace) -> int:
    from ventplanner.app import jobs
    from ventplanner.io import report, summary

    done = jobs.vent(_wish(asked), asked.out, overwrite=asked.overwrite, save=asked.save, progress=_progress())
    after = done.exported.after
    left = report.left_after(done.findings, done.plan, after)
    result = report.venting(done.findings, done.plan, after, left, verified=True)
    _print(report.to_text(result) if asked.json else summary.venting_text(result, asked.out))
    return SOMETHING_LEFT if left else DONE


def _progress() -> Progress:
    """Progress on a terminal: one line that is overwritten, and a word before the first start's compilation."""
    from ventplanner import compile_cache

    if not sys.stderr.isatty():
        return silent
    if compile_cache.is_cold():
        print("First start: compiling the inner loops, some seconds …", file=sys.stderr)

    def show(phase: str, share: float) -> None:
        end = "\r\x1b[K" if share >= 1.0 else f"\r\x1b[K{phase} … {100 * share:3.0f} %"
        print(end, end="", file=sys.stderr, flush=True)

    return show


def _print(text: str) -> None:
    if sys.stderr.isatty():
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)
    print(text)


def _say(text: str, code: int) -> int:
    print(" ".join(text.split()), file=sys.stderr)
    return code
