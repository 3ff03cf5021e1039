"""Passages: holes inside the part that join a cup to free space that already breathes where the cup starts.

Chosen from many: rays from the start of the cup, over the sphere and aimed at all such space around, are measured on
the column runs and on a coarse grid of what is where; the best are fitted exactly, and confirmed by looking at the
part again with them. Where no straight one fits, two straight legs are tried (`passages_bent`).

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.plan.passage_search import Found, Search
from ventplanner.plan.passages_bent import bent_ones
from ventplanner.plan.passages_straight import straight_ones

NARROWEST_MM = 1.0
SMALLER_MM = (5.0, 3.5, 2.5, 1.8, 1.3, NARROWEST_MM)
"""Diameters that are tried when the asked one does not fit, largest first."""

TOO_LATE = "the cup would still open too late"


@dataclass(frozen=True)
class Nowhere:
    """Why there is no passage (a clause), and the closest miss (a clause or nothing)."""

    reason: str
    closest: str = ""

    @property
    def sentence(self) -> str:
        """Both."""
        return f"no passage inside, because {self.reason}" + (f"; closest miss: {self.closest}" if self.closest else "")


def find_passage(search: Search, name: str = "P1") -> Found | Nowhere:
    """The best passage for a cup, straight or else bent, as wide as asked or else as fits; or why there is none."""
    if not len(search.breathing_space):
        where = "in the rest of its cavity" if search.inside else "inside the part"
        far = f"{search.rules.longest_wall_mm:g} mm"
        return Nowhere(f"no free space {where} within {far} of its start breathes by {search.limit:.1f} mm")
    for kind in (straight_ones, bent_ones):
        for diameter in _diameters(search.rules.diameter_mm):
            refused = search.refused.total()
            for bored, to, lost in kind(search, 0.5 * diameter):
                found = search.confirmed(bored, to, lost, name)
                if found is not None:
                    return found
                search.refused[TOO_LATE] += 1
            if search.refused.total() == refused:
                break  # there was nothing that a smaller one could do better
    return _nowhere(search)


def _nowhere(search: Search) -> Nowhere:
    listed = sorted(search.refused.items(), key=lambda item: (-item[1], item[0]))
    reason = "; ".join(f"{text} ({n})" for text, n in listed) or "no straight way leads there"
    longest = f"{search.rules.longest_wall_mm:g} mm"
    least = f"{search.rules.passage_wall_mm:g} mm are asked for"
    if np.isfinite(search.widest_miss):
        left = f"{search.widest_miss:.2f} mm of material" if search.widest_miss > 0.0 else "no material"
        return Nowhere(reason, f"one that would leave {left} beside it, where {least}")
    if not listed and np.isfinite(search.shortest_miss):
        return Nowhere(reason, f"a way through {search.shortest_miss:.1f} mm of material; {longest} are allowed")
    return Nowhere(reason, listed[0][0] if listed else "")


def _diameters(asked: float) -> tuple[float, ...]:
    return (asked, *(d for d in SMALLER_MM if d < asked - 1e-9))
