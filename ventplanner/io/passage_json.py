"""Passages in `plan.json`, and the cups without a vent, which may have one; see `plan_json`."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Annotated

from msgspec import Meta, Struct, structs

from ventplanner.plan.model import NoVent, Passage, Point, Vent

LEAST_LEG_MM = 1e-6
Length = Annotated[float, Meta(ge=0)]


class OuterJson(Struct, frozen=True, kw_only=True):
    """Where a passage goes on in the same line through the skin: as wide as the passage itself."""

    entry_mm: Point
    exit_mm: Point
    axis: Point
    wall_mm: Length
    before_mm: Length
    beyond_mm: Length
    reason: str


class PassageJson(Struct, frozen=True, kw_only=True):
    """A round hole inside the part, of one straight leg or of two."""

    id: str
    cavity: str
    cup: str
    to: str
    points_mm: Annotated[tuple[Point, ...], Meta(min_length=2, max_length=3)]
    diameter_mm: Annotated[float, Meta(gt=0)]
    clearance_mm: float
    before_mm: Length
    beyond_mm: Length
    reason: str
    outer: OuterJson | None = None  # earlier versions knew none


class MissingJson(Struct, frozen=True):
    """A cup without a vent."""

    cavity: str
    cup: str
    reason: str
    closest: str
    join: PassageJson | None = None  # earlier versions knew no passages
    no_join: str = ""


def passage_of(passage: PassageJson) -> Passage:
    """The passage that was written."""
    made = Passage(**(structs.asdict(passage) | {"outer": None}))
    if passage.outer is None:
        return made
    hole = structs.asdict(passage.outer) | {"diameter_mm": made.diameter_mm}
    return replace(made, outer=Vent("", made.to, "", "vent", **hole)).called(made.id)


def missing_of(missing: MissingJson) -> NoVent:
    """The cup without a vent that was written."""
    join = None if missing.join is None else passage_of(missing.join)
    return NoVent(**(structs.asdict(missing) | {"join": join}))


def has_no_length(passage: PassageJson) -> bool:
    """Whether a leg of a passage begins where it ends."""
    return any(math.dist(a, b) < LEAST_LEG_MM for a, b in pairwise(passage.points_mm))
