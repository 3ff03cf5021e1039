"""The options of the command line, each job's parser built from the declared parameters."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NoReturn

from ventplanner import __version__
from ventplanner import hollow_parameters as h
from ventplanner import mend_parameters as m
from ventplanner import orient_parameters as o
from ventplanner import parameters as p
from ventplanner import profile_parameters as b
from ventplanner import sheet_parameters as s
from ventplanner.errors import ParameterError

Job = Callable[[argparse.Namespace], int]

Any_ = p.Parameter[Any]

PART: tuple[Any_, ...] = (p.UNIT, p.TO_PLATE, p.ON, p.GAP_MM)
LOOK: tuple[Any_, ...] = (
    p.PITCH_MM,
    p.LAYER_MM,
    p.IGNORE_BELOW_MM3,
    p.IGNORE_UNDER_MM,
    p.LATE_MM,
    p.LATE_MM3,
    p.NESTED,
)
VENTS: tuple[Any_, ...] = (
    p.DIAMETER_MM,
    p.SIZE,
    p.LEAST_MM,
    p.VENTS_PER_CAVITY,
    p.LONGEST_WALL_MM,
    p.PREFER,
    p.SEEN_FROM,
)
JOIN: tuple[Any_, ...] = (p.PASSAGES, p.PASSAGE_WALL_MM)

INSIDE: tuple[Any_, ...] = (p.THIN_MM, p.OVERHANG_DEG)

BENCH: tuple[Any_, ...] = (b.VISCOSITY, b.LIFT_SPEED, b.LOWER_SPEED)

_EXITS = """exit codes:
  0  done, nothing is left to do (hollow: the part is written, and needs vents)
  3  done, something is left to do (inspect: a cavity is sealed or late; mend: damage is left;
     drain: resin stays in the part)
  2  bad input or usage
  1  failed, cancelled or not verified: no file was changed"""


class _Parser(argparse.ArgumentParser):
    """One line for each mistake, in our own words and with our exit code."""

    def error(self, message: str) -> NoReturn:
        _, found, extra = message.partition("unrecognized arguments: ")
        if found and not extra.startswith("-"):
            raise ParameterError(
                f"One part at a time: {extra} is too much.", "Give one file, or quote a name that has spaces."
            )
        raise ParameterError(f"{message[:1].upper()}{message[1:]}.", f"See: {self.prog} --help")


def parser_of(jobs_of: Mapping[str, Job]) -> argparse.ArgumentParser:
    """The parser of all jobs; jobs_of: what carries each of them out."""
    parser = _Parser(
        prog="ventplanner",
        usage="ventplanner [FILE]\n       ventplanner {inspect,vent,hollow,mend,drain,orient} FILE ...",
        description="Find every hollow of a resin print that cannot breathe, place the vents,\ndrill and verify them.",
        epilog="ventplanner [FILE] opens the window, with FILE in it.\n"
        f"ventplanner inspect --help lists its options; so do vent, hollow, mend, drain and orient.\n\n{_EXITS}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"ventplanner {__version__}")
    jobs = parser.add_subparsers(title="jobs", metavar="{inspect,vent,hollow,mend,drain,orient}", required=True)
    inspect = _job(jobs, "inspect", "show every cavity and cup, and what is the matter")
    inspect.set_defaults(job=jobs_of["inspect"])
    vent = _vent_job(jobs)
    vent.set_defaults(job=jobs_of["vent"])
    _hollow_job(jobs).set_defaults(job=jobs_of["hollow"])
    _mend_job(jobs).set_defaults(job=jobs_of["mend"])
    _drain_job(jobs).set_defaults(job=jobs_of["drain"], keep_clear=None, supports=None)
    _orient_job(jobs).set_defaults(job=jobs_of["orient"])
    return parser


def _vent_job(jobs: argparse._SubParsersAction[_Parser]) -> argparse.ArgumentParser:
    vent = _job(jobs, "vent", "propose vents, drill them, write the part and verify it")
    files = vent.add_argument_group("files")
    files.add_argument("--out", required=True, metavar="OUT", help="file to write: .stl, .3mf, .obj or .ply")
    files.add_argument("--overwrite", action="store_true", help="replace OUT and the saved plan where they exist")
    files.add_argument("--save", metavar="PLAN", help="save part, pose, options, profile and vents as a .ventplan file")
    files.add_argument("--plan", metavar="PLAN", help="drill the vents of a saved plan instead of proposing new ones")
    sheet = vent.add_argument_group("sheet for the bench")
    sheet.add_argument("--sheet", metavar="SHEET", help="write the sheet: .pdf or .html, pictures, figures and steps")
    sheet.add_argument("--table", metavar="TABLE", help="write the vents as a table: .csv")
    _add(sheet, tuple(s.SHEET_PARAMETERS.values()))
    _add(vent.add_argument_group("vents"), VENTS)
    _add(vent.add_argument_group("passages"), JOIN)
    return vent


def _hollow_job(jobs: argparse._SubParsersAction[_Parser]) -> argparse.ArgumentParser:
    job = _bare_job(jobs, "hollow", "hollow a solid part: an even wall, smooth inside, nothing in it in mid-air")
    files = job.add_argument_group("files")
    files.add_argument("--out", required=True, metavar="OUT", help="file to write: .stl, .3mf, .obj or .ply")
    files.add_argument("--overwrite", action="store_true", help="replace OUT where it exists")
    _add(job.add_argument_group("part and pose"), PART)
    group = job.add_argument_group("hollow")
    _add(group, tuple(h.HOLLOW_PARAMETERS.values()))
    keep = "under what it stays solid: a colour of FILE, or another file of the part in which that is painted"
    group.add_argument("--keep-solid", metavar="COLOUR|FILE", help=keep)
    about = "JSON file of a profile, for the density of the resin (resources/profile-format.md)"
    job.add_argument_group("printer and resin").add_argument("--profile", metavar="PROFILE", help=about)
    return job


def _mend_job(jobs: argparse._SubParsersAction[_Parser]) -> argparse.ArgumentParser:
    job = _bare_job(
        jobs, "mend", "mend a damaged part: closed, its cavities kept, and every change told with its place"
    )
    files = job.add_argument_group("files")
    files.add_argument("--out", required=True, metavar="OUT", help="file to write: .stl, .3mf, .obj or .ply")
    files.add_argument("--overwrite", action="store_true", help="replace OUT where it exists")
    group = job.add_argument_group("mending")
    _add(group, (p.UNIT, *m.MEND_PARAMETERS.values(), p.NESTED))
    redraw = "where nothing else closes the part, draw its broken skins anew on a grid, and tell what is lost"
    group.add_argument("--redraw", action="store_true", help=redraw)
    steps = "; ".join(f"{name} {what}" for name, what in m.STEPS.items())
    group.add_argument("--without", action="append", metavar="STEP", help=f"leave out a step, repeatable: {steps}")
    return job


def _drain_job(jobs: argparse._SubParsersAction[_Parser]) -> argparse.ArgumentParser:
    job = _bare_job(jobs, "drain", "plan how the printed part empties: how to hold and turn it, how long, what stays")
    about = "use the vents and passages of a saved plan (default: the part as it is in FILE)"
    job.add_argument_group("files").add_argument("--plan", metavar="PLAN", help=about)
    _add(job.add_argument_group("part and pose"), PART)
    about = f"{p.HOLD.text} (default: the poses that leave least are looked for)"
    holding = job.add_argument_group("holding")
    holding.add_argument(p.HOLD.flag, action="append", dest=p.HOLD.name, metavar="X,Y,Z", help=about)
    _add(job.add_argument_group("analysis"), LOOK)
    bench = job.add_argument_group("printer and resin")
    about = "JSON file of a profile (resources/profile-format.md; default: that of the plan, if it keeps one)"
    bench.add_argument("--profile", metavar="PROFILE", help=about)
    _add(bench, (b.VISCOSITY,))
    return job


def _orient_job(jobs: argparse._SubParsersAction[_Parser]) -> argparse.ArgumentParser:
    text = "tell which way up the part needs least: a short list of orientations with all figures; none is chosen"
    job = _bare_job(jobs, "orient", text)
    _add(job.add_argument_group("search"), tuple(o.ORIENT_PARAMETERS.values()))
    _add(job.add_argument_group("part and present pose"), PART)
    _keep_clear(job)
    _supports(job, "for the present pose alone: in another one there are none")
    _add(job.add_argument_group("analysis"), (*LOOK, p.OVERHANG_DEG))
    _add(job.add_argument_group("vents"), VENTS)
    _add(job.add_argument_group("passages"), JOIN)
    _bench(job)
    return job


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
    _add(parser.add_argument_group("part and pose"), PART)
    _keep_clear(parser)
    _supports(parser, "which no vent may touch or look at; they are not written")
    _add(parser.add_argument_group("analysis"), (*LOOK, *INSIDE))
    _bench(parser)
    return parser


def _keep_clear(parser: argparse.ArgumentParser) -> None:
    keep = (
        "where no vent may be: a colour of FILE, such as #ff0000; or another file of the part in which that is painted"
    )
    keep += "; or a .ventplan file in which it is marked (default: what is marked in the saved plan, if there is one)"
    parser.add_argument("--keep-clear", metavar="COLOUR|FILE", help=keep)


def _supports(parser: argparse.ArgumentParser, what: str) -> None:
    about = f"file of supports in the unit and axes of FILE, {what} (default: those of the plan, if it has some)"
    parser.add_argument("--supports", metavar="SUPPORTS", help=about)


def _bench(parser: argparse.ArgumentParser) -> None:
    bench = parser.add_argument_group("printer and resin")
    about = "JSON file of a profile (resources/profile-format.md; default: that of the plan, if it keeps one)"
    bench.add_argument("--profile", metavar="PROFILE", help=about)
    _add(bench, BENCH)


def _add(group: argparse._ArgumentGroup, parameters: Sequence[Any_]) -> None:
    for parameter in parameters:
        metavar = "X,Y,Z" if parameter.kind == "direction" else (parameter.unit or "N").upper()
        if parameter.kind == "choice":
            metavar = "|".join(parameter.choices)
        group.add_argument(parameter.flag, dest=parameter.name, metavar=metavar, help=parameter.help.replace("%", "%%"))
