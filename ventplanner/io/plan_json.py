"""The `plan.json` of a plan file: what it holds, strictly decoded; resources/plan-format.md describes every key.

The structures here are the format, apart from the types of the program: a name that changes there changes no file.
A key that they do not know is skipped, because a later version may have added it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath, PureWindowsPath
from typing import Annotated, TypeVar

import msgspec
from msgspec import Meta, Struct, structs

from ventplanner import __version__
from ventplanner.errors import FileReadError, ParameterError, ProjectError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.pose import On, Pose
from ventplanner.geometry.solid import Body, Solid, Source, Unit
from ventplanner.geometry.support_file import Supports
from ventplanner.io.limits_json import LimitsJson
from ventplanner.io.passage_json import MissingJson, PassageJson, has_no_length, missing_of, passage_of
from ventplanner.io.profile_json import profile_object, profile_of
from ventplanner.io.vent_json import VentJson, vent_json, vent_of, wrong_with
from ventplanner.io.weights_json import WeightsJson
from ventplanner.options import AnalysisOptions, InsideLimits, Nested, Passages, Sizing, VentRules, Weights
from ventplanner.parameters import LEAST_MM, PASSAGE_WALL_MM, PREFER
from ventplanner.plan.model import Passage, Plan, Point, Vent
from ventplanner.profile import Profile

NAME, FIRST, MAJOR = "ventplanner-plan", 1, 2
"""Plans are written in the first format as long as it holds them: versions that know no other read them."""

COPY = "Open another copy of the file, or make the plan again from the part."

S = TypeVar("S", bound=Struct)
Length = Annotated[float, Meta(ge=0)]
Count = Annotated[int, Meta(ge=0, le=2**31 - 1)]


@dataclass(frozen=True)
class SavedPlan:
    """Everything that a plan file keeps: the part, what the user decided, and under which settings.

    `set_aside` are proposals that the user does not want. `proposals` says, per id of a vent, which proposal it began
    as; `left_at`, per cavity left alone, a point in it in mm along the file's axes. `profile` is the printer and resin
    that its figures were computed for, None in a file that keeps none. `keep_clear` are the faces that no vent may cut,
    None if none are marked. `limits` are those of the look inside. `program_version` is the version that wrote the
    file; saving writes the version that saves.
    """

    part: Solid
    plan: Plan = field(default_factory=Plan)
    pose: Pose = field(default_factory=Pose)
    options: AnalysisOptions = field(default_factory=AnalysisOptions)
    rules: VentRules = field(default_factory=VentRules)
    set_aside: tuple[Vent, ...] = ()
    proposals: tuple[tuple[str, Vent], ...] = ()
    left_at: tuple[tuple[str, Point], ...] = ()
    profile: Profile | None = None
    keep_clear: FaceMask | None = None
    supports: Supports | None = None
    passages_aside: tuple[Passage, ...] = ()
    limits: InsideLimits = field(default_factory=InsideLimits)
    program_version: str = field(default=__version__, compare=False)


class BodyJson(Struct, frozen=True):
    """A named run of faces."""

    name: str
    start: Count
    stop: Count


class PartJson(Struct, frozen=True, kw_only=True):
    """The part: its members by digest, and what its own file said."""

    file: str
    format: str
    digest: Annotated[str, Meta(pattern="^[0-9a-f]{32}$")]
    vertices: Count
    faces: Count
    bodies: tuple[BodyJson, ...]
    unit_given: Unit | None
    unit_assumed: Unit
    mm_per_unit: Annotated[float, Meta(gt=0)]
    unit_hint: str
    single_precision: bool
    notes: tuple[str, ...]


class KeepClearJson(Struct, frozen=True):
    """The surface that no vent may cut: its member by digest, and how many faces are marked."""

    digest: Annotated[str, Meta(pattern="^[0-9a-f]{32}$")]
    marked: Count


class PoseJson(Struct, frozen=True):
    """How the part hangs."""

    to_plate: Point
    on: On
    gap_mm: float


class OptionsJson(Struct, frozen=True, kw_only=True):
    """How the part is analysed."""

    pitch_mm: float | None
    layer_mm: float
    ignore_below_mm3: float
    ignore_under_mm: float
    late_mm: float
    late_mm3: float
    nested: Nested


class RulesJson(Struct, frozen=True, kw_only=True):
    """What proposed vents look like."""

    diameter_mm: float
    vents_per_cavity: int
    longest_wall_mm: float
    size: Sizing = "fixed"
    least_mm: float = LEAST_MM.default
    passages: Passages = "off"
    passage_wall_mm: float = PASSAGE_WALL_MM.default
    prefer: float = PREFER.default
    seen_from: Point | None = None
    weights: WeightsJson = WeightsJson()


class SupportsJson(Struct, frozen=True, kw_only=True):
    """Where the supports are that the plan minds, and which they were; they are not in the plan's file."""

    path: str
    digest: Annotated[str, Meta(pattern="^[0-9a-f]{32}$")]


class ChosenJson(Struct, frozen=True):
    """A vent of the plan, and the proposal that it began as."""

    vent: VentJson
    proposal: VentJson | None


class LeftJson(Struct, frozen=True):
    """A cavity left as it is."""

    cavity: str
    note: str
    at_mm: Point | None


class PlanJson(Struct, frozen=True, kw_only=True):
    """The whole of `plan.json`."""

    schema: str
    program: str
    part: PartJson
    pose: PoseJson
    options: OptionsJson
    rules: RulesJson
    inside: LimitsJson | None = None  # earlier versions wrote none
    profile: dict[str, object] | None = None  # as in a profile's file; earlier versions wrote none
    keep_clear: KeepClearJson | None = None  # earlier versions wrote none
    supports: SupportsJson | None = None  # the same
    vents: tuple[ChosenJson, ...]
    missing: tuple[MissingJson, ...]
    left_alone: tuple[LeftJson, ...]
    set_aside: tuple[VentJson, ...]
    passages: tuple[PassageJson, ...] = ()  # earlier versions wrote none, of both
    passages_set_aside: tuple[PassageJson, ...] = ()


class _Head(Struct):
    """What must be readable in a file of any version."""

    schema: str
    program: str = "an unknown version"


def encode(saved: SavedPlan) -> bytes:
    """The bytes of `plan.json` (UTF-8, indented). Raises ProjectError if the plan is none that could be read again."""
    way_out = "Remove the vent or note that it belongs to."
    try:
        document = _document(saved)
        text = msgspec.json.format(msgspec.json.encode(document), indent=2) + b"\n"
    except (msgspec.ValidationError, UnicodeEncodeError) as error:
        raise ProjectError(f"The plan holds a value that no plan file can hold: {error}.", way_out) from error
    # JSON has no NaN, and two vents of one id would be one after reading: better now than when the plan is needed.
    if decode(text) != document:
        raise ProjectError("The plan holds a value that no plan file can hold.", way_out)
    return text


def decode(text: bytes) -> PlanJson:
    """The content of `plan.json`. Raises ProjectError with the place of what is wrong."""
    try:
        _require_known(msgspec.json.decode(text, type=_Head))
        document = msgspec.json.decode(text, type=PlanJson)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise ProjectError(f"plan.json: {error}.", COPY) from error
    _require_vents(document)
    for i, body in enumerate(document.part.bodies):
        if not body.start <= body.stop <= document.part.faces:
            raise ProjectError(f"plan.json: $.part.bodies[{i}] is no run of the part's faces.", COPY)
    return document


def source_of(part: PartJson) -> Source:
    """Where the part came from. Its path is the bare file name: a plan file does not tell whose folders it was in."""
    return Source(
        path=part.file,
        format=part.format,
        unit_given=part.unit_given,
        unit_assumed=part.unit_assumed,
        mm_per_unit=part.mm_per_unit,
        unit_hint=part.unit_hint,
        single_precision=part.single_precision,
        notes=part.notes,
    )


def bodies_of(part: PartJson) -> tuple[Body, ...]:
    """The named runs of faces."""
    return tuple(Body(b.name, b.start, b.stop) for b in part.bodies)


def saved_of(document: PlanJson, part: Solid, keep_clear: FaceMask | None = None) -> SavedPlan:
    """The plan of this document for the part and the marks that it came with.

    Raises ProjectError for values out of range."""
    try:
        pose = Pose(**structs.asdict(document.pose))
        options = AnalysisOptions(**structs.asdict(document.options))
        weights = Weights(**structs.asdict(document.rules.weights))
        rules = VentRules(**structs.asdict(document.rules) | {"weights": weights})
        limits = InsideLimits() if document.inside is None else InsideLimits(**structs.asdict(document.inside))
        profile = None if document.profile is None else profile_of(document.profile, "$.profile")
    except (ParameterError, FileReadError) as error:
        raise ProjectError(f"plan.json: {error.cause}", COPY) from error
    plan = Plan(
        vents=tuple(vent_of(c.vent) for c in document.vents),
        missing=tuple(missing_of(m) for m in document.missing),
        left_alone=tuple((c.cavity, c.note) for c in document.left_alone),
        passages=tuple(map(passage_of, document.passages)),
    )
    return SavedPlan(
        part=part,
        plan=plan,
        pose=pose,
        options=options,
        rules=rules,
        set_aside=tuple(map(vent_of, document.set_aside)),
        proposals=tuple((c.vent.id, vent_of(c.proposal)) for c in document.vents if c.proposal is not None),
        left_at=tuple((c.cavity, c.at_mm) for c in document.left_alone if c.at_mm is not None),
        profile=profile,
        keep_clear=keep_clear,
        supports=None if document.supports is None else Supports(document.supports.path, document.supports.digest),
        passages_aside=tuple(map(passage_of, document.passages_set_aside)),
        limits=limits,
        program_version=document.program,
    )


def format_of(document: PlanJson) -> int:
    """The first format that holds a plan: sections and countersinks came with the second one. A reader that skipped
    them would drill other holes."""
    vents = [v for chosen in document.vents for v in (chosen.vent, chosen.proposal) if v is not None]
    return FIRST if all(v.is_plain for v in (*vents, *document.set_aside)) else MAJOR


def _document(saved: SavedPlan) -> PlanJson:
    document = _all_of(saved)
    return structs.replace(document, schema=f"{NAME}/{format_of(document)}")


def _all_of(saved: SavedPlan) -> PlanJson:
    solid, source = saved.part, saved.part.source
    proposals, places = dict(saved.proposals), dict(saved.left_at)
    return PlanJson(
        schema="",
        program=__version__,
        part=PartJson(
            file=_file_name(source.path),
            format=source.format,
            digest=solid.digest,
            vertices=len(solid.vertices),
            faces=len(solid.faces),
            bodies=tuple(BodyJson(b.name, b.start, b.stop) for b in solid.bodies),
            unit_given=source.unit_given,
            unit_assumed=source.unit_assumed,
            mm_per_unit=source.mm_per_unit,
            unit_hint=source.unit_hint,
            single_precision=source.single_precision,
            notes=source.notes,
        ),
        pose=_as(PoseJson, saved.pose),
        options=_as(OptionsJson, saved.options),
        rules=_as(RulesJson, saved.rules),
        inside=_as(LimitsJson, saved.limits),
        profile=None if saved.profile is None else profile_object(saved.profile),
        keep_clear=_marks(saved.keep_clear),
        supports=None if saved.supports is None else _as(SupportsJson, saved.supports),
        vents=tuple(ChosenJson(vent_json(v), _as_vent(proposals.get(v.id))) for v in saved.plan.vents),
        missing=tuple(_as(MissingJson, m) for m in saved.plan.missing),
        left_alone=tuple(LeftJson(c, note, places.get(c)) for c, note in saved.plan.left_alone),
        set_aside=tuple(vent_json(v) for v in saved.set_aside),
        passages=tuple(_as(PassageJson, p) for p in saved.plan.passages),
        passages_set_aside=tuple(_as(PassageJson, p) for p in saved.passages_aside),
    )


def _marks(mask: FaceMask | None) -> KeepClearJson | None:
    return KeepClearJson(mask.digest, mask.count) if mask else None


def _file_name(path: str) -> str:
    """The last part of a path of any system; bytes of it that are no text become question marks."""
    name = (PureWindowsPath if "\\" in path else PurePosixPath)(path).name
    return name.encode("utf-8", "replace").decode("utf-8")


def _as(kind: type[S], value: object) -> S:
    return msgspec.convert(value, kind, from_attributes=True)


def _as_vent(vent: Vent | None) -> VentJson | None:
    return None if vent is None else vent_json(vent)


def _require_known(head: _Head) -> None:
    name, _, version = head.schema.partition("/")
    major = version.partition(".")[0]
    if name != NAME or not major.isdecimal():
        raise ProjectError(f"plan.json: schema '{head.schema}' is not that of a plan.", COPY)
    if int(major) > MAJOR:
        raise ProjectError(
            f"The plan was saved by a newer ventplanner ({head.program}) in format {version}; this one reads {MAJOR}.",
            "Install the newer version, or save the plan again with this one.",
        )
    if int(major) < FIRST:
        raise ProjectError(f"plan.json: there is no format {version}.", COPY)


def _require_vents(document: PlanJson) -> None:
    chosen = [(f"$.vents[{i}].vent", c.vent) for i, c in enumerate(document.vents)]
    begun = [(f"$.vents[{i}].proposal", c.proposal) for i, c in enumerate(document.vents) if c.proposal]
    aside = [(f"$.set_aside[{i}]", v) for i, v in enumerate(document.set_aside)]
    for place, vent in (*chosen, *begun, *aside):
        if told := wrong_with(vent):
            raise ProjectError(f"plan.json: {place}{told}", COPY)
    for i, passage in enumerate(document.passages):
        if passage.outer is not None and abs(math.hypot(*passage.outer.axis) - 1.0) > 1e-6:
            raise ProjectError(f"plan.json: $.passages[{i}].outer.axis is no unit vector.", COPY)
    for i, passage in enumerate(document.passages):
        if has_no_length(passage):
            raise ProjectError(f"plan.json: $.passages[{i}].points_mm holds one place twice.", COPY)
    _require_different([v.id for _, v in chosen], "$.vents")
    _require_different([p.id for p in document.passages], "$.passages")
    _require_different([c.cavity for c in document.left_alone], "$.left_alone")


def _require_different(ids: Sequence[str], place: str) -> None:
    twice = sorted({i for i in ids if ids.count(i) > 1})
    if twice:
        raise ProjectError(f"plan.json: {place} holds '{twice[0]}' twice.", COPY)
