"""Which sections and countersinks a vent can have. Light: the window reads it before anything heavy is loaded.

Limits without a named source are own judgement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ventplanner.errors import ParameterError
from ventplanner.geometry.outline import ROUND, Outline
from ventplanner.plan.model import Countersink

SLOT_RATIO = 1.1
"""A slot is at least this many times as long as it is wide: else it is a round hole."""

LONGEST_MM = 50.0
"""A longer slot is no vent."""

LEAST_SPREAD_MM, LEAST_DEPTH_MM = 0.1, 0.1


@dataclass(frozen=True)
class Section:
    """What is wished of a vent besides its place: its width, the shape and length of its section, by how many degrees
    that is turned from the level (anticlockwise seen from outside), and its countersink. about: where the length or the
    countersink does not fit, a smaller one is welcome."""

    width_mm: float
    outline: Outline = ROUND
    turn_deg: float = 0.0
    countersink: Countersink | None = None
    about: bool = False

    def smaller(self, share: float) -> Section:
        """With this share of the length that a slot has beyond its least, and of the countersink."""
        outline, sink, least = self.outline, self.countersink, SLOT_RATIO * self.width_mm
        if outline.shape == "slot":
            outline = replace(outline, length_mm=round(least + share * max(outline.length_mm - least, 0.0), 3))
        if sink is not None:
            narrow = self.width_mm + 2.0 * LEAST_SPREAD_MM
            wide = round(narrow + share * max(sink.width_mm - narrow, 0.0), 3)
            sink = Countersink(wide, round(max(share * sink.depth_mm, LEAST_DEPTH_MM), 3))
        return replace(self, outline=outline, countersink=sink)

    def check(self) -> None:
        """Raises ParameterError if no vent can be so."""
        check_section(self.width_mm, self.outline, self.countersink)


def check_section(width_mm: float, outline: Outline, sink: Countersink | None) -> None:
    """Raises ParameterError, with the way out, for a section or a countersink that is none."""
    if outline.shape == "slot" and not SLOT_RATIO * width_mm <= outline.length_mm <= LONGEST_MM:
        least = SLOT_RATIO * width_mm
        raise ParameterError(
            f"A slot {width_mm:g} mm wide cannot be {outline.length_mm:g} mm long.",
            f"Give {least:.4g} to {LONGEST_MM:g} mm, or make it round.",
        )
    if sink is None:
        return
    least = width_mm + 2.0 * LEAST_SPREAD_MM
    if not (math.isfinite(sink.width_mm) and sink.width_mm >= least - 1e-9):
        raise ParameterError(
            f"A countersink of {sink.width_mm:g} mm is not wider than its vent of {width_mm:g} mm.",
            f"Give {least:.4g} mm or more, or none.",
        )
    if not (math.isfinite(sink.depth_mm) and sink.depth_mm >= LEAST_DEPTH_MM):
        raise ParameterError(
            f"A countersink cannot be {sink.depth_mm:g} mm deep.", f"Give {LEAST_DEPTH_MM:g} mm or more."
        )
