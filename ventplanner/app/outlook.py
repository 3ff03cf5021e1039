"""How the part prints with the accepted vents, told by cavity: which cups are left and in which cavity each lies."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ventplanner.analysis.cavities import ABOVE_FLOOR_MM, worst
from ventplanner.analysis.cups import Cup, Cups, State
from ventplanner.analysis.findings import Findings
from ventplanner.geometry.solid import FloatArray

ALONG = (0.02, 0.25, 0.5, 0.75, 0.98)
"""A run of a drilled hole is looked at at these shares of its height: it goes on in the cavity behind the hole."""


@dataclass(frozen=True, eq=False)
class Outlook:
    """Cups with vents (`cups`) beside the findings without them. A cup keeps the names of the place it starts at."""

    findings: Findings
    cups: Cups

    @cached_property
    def homes(self) -> tuple[tuple[str, str], ...]:
        """Cavity and cup, as the findings name them, for each of `cups.cups`; "" where no name is known."""
        names = {c.number: (cavity.id, c.id) for cavity in self.findings.cavities for c in cavity.cups}
        starts = np.array([cup.start for cup in self.cups.cups]).reshape(-1, 3)
        numbers = self.findings.cups.cup_at(starts + np.array([0.0, 0.0, ABOVE_FLOOR_MM]))
        return tuple(names.get(int(k) if k >= 0 else self._met_by(at), ("", "")) for at, k in enumerate(numbers))

    def _met_by(self, at: int) -> int:
        """The cup of the findings that one of `cups.cups` reaches into most, -1 if none.

        A cup that starts where there was material starts in a drilled hole: one whose mouth the plate closes, such as
        a vent placed for supports when the part is laid on the plate.
        """
        runs = self.cups.runs_of(at)
        all_of = self.cups.tree.runs
        x, y = all_of.grid.centres(all_of.column_of_run[runs])
        low, high = all_of.z0[runs], np.minimum(all_of.z1[runs], self.cups.cups[at].top_height)
        places = [np.column_stack((x, y, low + share * (high - low))) for share in ALONG]
        numbers = self.findings.cups.cup_at(np.concatenate(places).reshape(-1, 3))
        counts = np.bincount(numbers[numbers >= 0])
        return int(counts.argmax()) if len(counts) else -1

    def bad(self, cavity_id: str) -> tuple[tuple[str, Cup], ...]:
        """The cups of a cavity that do not breathe, each with its name, by height."""
        options = self.findings.options
        return tuple(
            (name, cup)
            for (cavity, name), cup in zip(self.homes, self.cups.cups, strict=True)
            if cavity == cavity_id and cup.state(options) != "breathing"
        )

    def state(self, cavity_id: str) -> State:
        """The worst state of a cavity's cups, and of those of another cavity that passages have made one with them."""
        cavities = (c for c in self.findings.cavities if c.id == cavity_id)  # "" is none
        starts = np.array([found.cup.start for c in cavities for found in c.cups]).reshape(-1, 3)
        numbers = self.cups.cup_at(starts + np.array([0.0, 0.0, ABOVE_FLOOR_MM]))
        cups = [*(cup for _, cup in self.bad(cavity_id)), *(self.cups.cups[k] for k in numbers if k >= 0)]
        return worst([cup.state(self.findings.options) for cup in cups])

    def area(self, cavity_id: str) -> FloatArray:
        """(k,) sealed area in mm2 of a cavity at the heights of `heights`."""
        total = np.zeros(len(self.heights) - 2)
        for (cavity, _), cup in zip(self.homes, self.cups.cups, strict=True):
            if cavity == cavity_id:
                total += cup.area
        return np.concatenate((total[:1], total, total[-1:]))

    @property
    def areas(self) -> tuple[FloatArray, ...]:
        """(k,) sealed area in mm2 at `heights`, for each cavity in its order, then for all that is sealed beside them
        (below the filter, or in no cavity)."""
        own = tuple(self.area(c.id) for c in self.findings.cavities)
        total: FloatArray = self.cups.sealed_area.area
        return (*own, np.maximum(total - np.sum(own, axis=0), 0.0))

    @property
    def heights(self) -> FloatArray:
        """(k,) build heights in mm at which sealed areas are told: the middles of equal steps, and both ends."""
        return self.cups.sealed_area.height
