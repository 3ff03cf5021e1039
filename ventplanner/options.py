"""The options of the analysis and the rules for vents: frozen, complete, and valid by construction."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

from ventplanner import parameters as p
from ventplanner import weight_parameters as w

Nested = Literal["auto", "solid", "cavity", "as-is"]
Passages = Literal["off", "auto"]
Sizing = Literal["fixed", "need"]


def _check_all(values: AnalysisOptions | VentRules | InsideLimits) -> None:
    """Replace every field by its checked value; ParameterError names the first that is not allowed."""
    for f in (f for f in fields(values) if f.name != "weights"):
        object.__setattr__(values, f.name, p.check(f.name, getattr(values, f.name)))


@dataclass(frozen=True)
class AnalysisOptions:
    """How a part is analysed. `pitch_mm` None: chosen from the part's size and its thinnest wall.

    The other fields, their units and ranges are those of the parameters of the same name. Raises ParameterError.
    """

    pitch_mm: float | None = p.PITCH_MM.default
    layer_mm: float = p.LAYER_MM.default
    ignore_below_mm3: float = p.IGNORE_BELOW_MM3.default
    ignore_under_mm: float = p.IGNORE_UNDER_MM.default
    late_mm: float = p.LATE_MM.default
    late_mm3: float = p.LATE_MM3.default
    nested: Nested = p.NESTED.default

    def __post_init__(self) -> None:
        _check_all(self)


@dataclass(frozen=True)
class Weights:
    """How much each term of a place for a vent counts, in mm of wall, as `weight_parameters` says. The slider weighs
    `lost` to `second` against `seen`; the others always count in full. Raises ParameterError."""

    lost: float = w.LOST.default
    sealed: float = w.SEALED.default
    wall: float = w.WALL.default
    second: float = w.SECOND.default
    seen: float = w.SEEN.default
    bend: float = w.BEND.default
    edge: float = w.EDGE.default
    gap: float = w.GAP.default
    thin: float = w.THIN.default
    support: float = w.SUPPORT.default
    base: float = w.BASE.default
    plate: float = w.PLATE.default
    access: float = w.ACCESS.default

    def __post_init__(self) -> None:
        for name, parameter in w.WEIGHTS.items():
            object.__setattr__(self, name, parameter.check(getattr(self, name)))


@dataclass(frozen=True)
class VentRules:
    """What proposed vents look like; fields, units and ranges as the parameters say. Raises ParameterError.

    weights: what counts how much where other places are looked for, and where `prefer` is above 0."""

    diameter_mm: float = p.DIAMETER_MM.default
    vents_per_cavity: int = p.VENTS_PER_CAVITY.default
    longest_wall_mm: float = p.LONGEST_WALL_MM.default
    size: Sizing = p.SIZE.default
    least_mm: float = p.LEAST_MM.default
    passages: Passages = p.PASSAGES.default
    passage_wall_mm: float = p.PASSAGE_WALL_MM.default
    prefer: float = p.PREFER.default
    seen_from: p.Direction | None = p.SEEN_FROM.default
    weights: Weights = Weights()

    def __post_init__(self) -> None:
        _check_all(self)


@dataclass(frozen=True)
class InsideLimits:
    """From where on a look inside names a wall or a ceiling, as the parameters say. Raises ParameterError.

    The default steepness of 30 degrees is common practice, no source; the default thickness is own judgement.
    """

    thin_mm: float = p.THIN_MM.default
    overhang_deg: float = p.OVERHANG_DEG.default

    def __post_init__(self) -> None:
        _check_all(self)
