"""How a part is to be mended."""

from __future__ import annotations

from dataclasses import dataclass

from ventplanner.analysis.nesting import Nested
from ventplanner.errors import ParameterError
from ventplanner.mend_parameters import LARGEST_MM, MEND_PARAMETERS, STEPS, TOLERANCE_MM


@dataclass(frozen=True)
class MendRules:
    """Rules of mending, lengths in mm; each is explained at its parameter.

    without: names of steps (`mend_parameters.STEPS`) that are left out. redraw: skins that nothing closes may be drawn
    anew, with a loss that is told. nested: how a skin inside another that points outward is read (`analysis.nesting`).
    Raises ParameterError for values that are not allowed.
    """

    tolerance_mm: float = TOLERANCE_MM.default
    largest_mm: float | None = LARGEST_MM.default
    nested: Nested = "auto"
    without: frozenset[str] = frozenset()
    redraw: bool = False

    def __post_init__(self) -> None:
        for name, parameter in MEND_PARAMETERS.items():
            object.__setattr__(self, name, parameter.check(getattr(self, name)))
        unknown = sorted(self.without - set(STEPS))
        if unknown:
            raise ParameterError(f"There is no step called {unknown[0]:.40}.", f"Choose of {', '.join(STEPS)}.")
