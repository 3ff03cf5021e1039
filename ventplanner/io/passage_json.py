"""Passages in `plan.json`, and the cups without a vent, which may have one; see `plan_json`."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated

from msgspec import Meta, Struct, structs

from ventplanner.plan.model import NoVent, Passage, Point

LEAST_LEG_MM = 1e-6
Length = Annotated[float, Meta(ge=0)]


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
    return Passage(**structs.asdict(passage))


def missing_of(missing: MissingJson) -> NoVent:
    """The cup without a vent that was written."""
    join = None if missing.join is None else passage_of(missing.join)
    return NoVent(**(structs.asdict(missing) | {"join": join}))


def has_no_length(passage: PassageJson) -> bool:
    """Whether a leg of a passage begins where it ends."""
    return any(math.dist(a, b) < LEAST_LEG_MM for a, b in pairwise(passage.points_mm))
