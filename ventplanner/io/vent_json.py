"""Vents in `plan.json`; sections and countersinks are written only where a vent has them. See `plan_json`."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from ventplanner.errors import ParameterError
from ventplanner.geometry.outline import Outline
from ventplanner.plan.model import Countersink, Kind, Point, Vent
from ventplanner.plan.section_rules import check_section

Length = Annotated[float, Meta(ge=0)]
Above = Annotated[float, Meta(gt=0)]


class SectionJson(Struct, frozen=True, kw_only=True):
    """A vent that is no round hole. length_mm: 0 of a square."""

    shape: Literal["slot", "square"]
    length_mm: Length
    along: Point


class CountersinkJson(Struct, frozen=True, kw_only=True):
    """A flared entry."""

    width_mm: Above
    depth_mm: Above


class VentJson(Struct, frozen=True, kw_only=True):
    """A hole through one wall, or an opening made wider."""

    id: str
    cavity: str
    cup: str
    kind: Kind
    entry_mm: Point
    exit_mm: Point
    axis: Point
    diameter_mm: Above
    wall_mm: Length
    before_mm: Length
    beyond_mm: Length
    reason: str
    section: SectionJson | UnsetType = UNSET
    countersink: CountersinkJson | UnsetType = UNSET

    @property
    def is_plain(self) -> bool:
        """Whether it is a round hole without a countersink, which the first format holds as well."""
        return self.section is UNSET and self.countersink is UNSET


_PLAIN = tuple(name for name in VentJson.__struct_fields__ if name not in ("section", "countersink"))


def vent_json(vent: Vent) -> VentJson:
    """What is written of a vent."""
    outline, sink = vent.outline, vent.countersink
    return VentJson(
        **{name: getattr(vent, name) for name in _PLAIN},
        section=UNSET
        if outline.shape == "round"
        else SectionJson(shape=outline.shape, length_mm=outline.length_mm, along=outline.along),
        countersink=UNSET if sink is None else CountersinkJson(width_mm=sink.width_mm, depth_mm=sink.depth_mm),
    )


def vent_of(vent: VentJson) -> Vent:
    """The vent that was written."""
    plain = {name: getattr(vent, name) for name in _PLAIN}
    if not isinstance(vent.section, UnsetType):
        plain["outline"] = Outline(**structs.asdict(vent.section))
    if not isinstance(vent.countersink, UnsetType):
        plain["countersink"] = Countersink(**structs.asdict(vent.countersink))
    return Vent(**plain)


def wrong_with(vent: VentJson) -> str:
    """What is wrong with the numbers of a vent, as the end of a sentence that begins with its place; "" if nothing."""
    if abs(math.hypot(*vent.axis) - 1.0) > 1e-6:
        return ".axis is no unit vector."
    made = vent_of(vent)
    if not made.outline.is_round:
        if abs(math.hypot(*made.outline.along) - 1.0) > 1e-6:
            return ".section.along is no unit vector."
        if abs(sum(a * b for a, b in zip(made.outline.along, made.axis, strict=True))) > 1e-6:
            return ".section.along is not square to the axis."
    try:
        check_section(made.diameter_mm, made.outline, made.countersink)
    except ParameterError as error:
        return f": {error.cause}"
    if made.countersink is not None and made.countersink.depth_mm >= made.wall_mm:
        return ".countersink.depth_mm is not less than wall_mm."
    return ""
