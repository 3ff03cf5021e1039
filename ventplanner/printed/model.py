"""What is said about a part as printed: frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ventplanner.analysis.cups import State
from ventplanner.profile import Profile

Point = tuple[float, float, float]
Cause = Literal["raster", "bleed", "print-through", "base layers"]
CAUSES: tuple[Cause, ...] = ("raster", "bleed", "print-through", "base layers")


@dataclass(frozen=True)
class PrintedOpening:
    """An opening or a vent as printed.

    of: the cavity it belongs to, or the vent's place in the list as "1", "2", ... at: build point (mm) in its throat.
    nominal_mm: diameter of the largest ball that passes in the model; printed_mm: the same as printed, 0 where none
    does. open: something passes. taken: mm that each cause took, switched on one after the other: they add up to
    nominal - printed; below 0 it gave. cause: the one that took most, "" if none took anything. exact: False where
    it is too wide to be measured cell by cell and printed_mm is a lower bound by formula, and of a countersink, which
    is taken as it is: the hole that it leads to is measured.
    """

    of: str
    at: Point
    nominal_mm: float
    printed_mm: float
    open: bool
    cause: Cause | Literal[""]
    taken: Mapping[Cause, float]
    exact: bool = True

    @classmethod
    def of_widths(cls, of: str, at: Point, widths: tuple[float, ...], exact: bool = True) -> PrintedOpening:
        """From its width in the model and after each cause of CAUSES was switched on."""
        taken = {cause: widths[k] - widths[k + 1] for k, cause in enumerate(CAUSES)}
        most = max(CAUSES, key=lambda cause: taken[cause])
        printed = widths[-1]
        return cls(of, at, widths[0], printed, printed > 0.0, most if taken[most] > 1e-9 else "", taken, exact)


@dataclass(frozen=True)
class PrintedCup:
    """A cup of the findings beside what is there as printed.

    cavity, cup: names in the findings; cup "" for one that only the print makes; cavity "" for one in no cavity.
    nominal, printed: its state with the planned vents, in the model and as printed. from_mm, to_mm: build heights in mm
    between which it is sealed as printed (the worst, if several cups are there), to_mm None if it never opens; both
    None if there is none. volume_mm3: sealed as printed; peak_area_mm2: largest sealed area at any height.
    """

    cavity: str
    cup: str
    nominal: State
    printed: State
    from_mm: float | None
    to_mm: float | None
    volume_mm3: float
    peak_area_mm2: float


@dataclass(frozen=True)
class Fitted:
    """A profile fitted to a test piece, and a sentence for each number that could or could not be told."""

    profile: Profile
    notes: tuple[str, ...]
