"""Passages: holes inside the part that join a cup to free space that already breathes where the cup starts.

Chosen from many: rays from the start of the cup, over the sphere and aimed at all such space around, are measured on
the column runs and on a coarse grid of what is where; the best are fitted exactly, and confirmed by looking at the
part again with them. Where no straight one fits, two straight legs are tried (`passages_bent`), and then one drill
from the outside through another hollow (`passages_through`).

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

import numpy as np

from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.fitting import Fit
from ventplanner.plan.passage_field import Field
from ventplanner.plan.passage_fit import Bored
from ventplanner.plan.passage_search import Found, Search
from ventplanner.plan.passages_bent import bent_ones
from ventplanner.plan.passages_straight import straight_ones
from ventplanner.plan.passages_through import through_ones

NARROWEST_MM = 1.0
SMALLER_MM = (5.0, 3.5, 2.5, 1.8, 1.3, NARROWEST_MM)
"""Diameters that are tried when the asked one does not fit, largest first."""


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
    """The best passage for a cup, straight or else bent, as wide as asked or else as fits; else one straight drill from
    the outside through another hollow into it; or why there is none."""
    none_near = not len(search.breathing_space)
    ways = () if none_near else _ways_inside(search)
    for bored, to, lost, out in chain(ways, () if search.inside else _ways_through(search)):
        found = search.confirmed(bored, to, lost, name, out)
        if isinstance(found, Found):
            return found
        search.refused[found] += 1
    if none_near:
        where = "in the rest of its cavity" if search.inside else "inside the part"
        far = f"{search.rules.longest_wall_mm:g} mm"
        reason = f"no free space {where} within {far} of its start breathes by {search.limit:.1f} mm"
        return Nowhere(reason, _nearest_that_breathes(search))
    return _nowhere(search)


def _ways_inside(search: Search) -> Iterator[tuple[Bored, int, float, None]]:
    """Straight passages of every diameter, then bent ones: each with the place it leads to and the height lost."""
    for kind in (straight_ones, bent_ones):
        for diameter in _diameters(search.rules.diameter_mm):
            refused = search.refused.total()
            for bored, to, lost in kind(search, 0.5 * diameter):
                yield bored, to, lost, None
            if search.refused.total() == refused:
                break  # there was nothing that a smaller one could do better


def _ways_through(search: Search) -> Iterator[tuple[Bored, int, float, Fit]]:
    """Drills from the outside through another hollow, of every diameter."""
    for diameter in _diameters(search.rules.diameter_mm):
        refused = search.refused.total()
        yield from through_ones(search, 0.5 * diameter)
        if search.refused.total() == refused:
            break


def _nowhere(search: Search) -> Nowhere:
    listed = sorted(search.refused.items(), key=lambda item: (-item[1], item[0]))
    reason = "; ".join(f"{text} ({n})" for text, n in listed) or "no straight way leads there"
    wall, near = search.widest_miss
    if near is not None:
        left = f"{wall:.2f} mm of material" if wall > 0.0 else "no material"
        least = f"{search.rules.passage_wall_mm:g} mm are asked for"
        return Nowhere(reason, f"one at {_place(search, near)} that would leave {left} beside it, where {least}")
    length, far = search.shortest_miss
    if not listed and far is not None:
        longest = f"{search.rules.longest_wall_mm:g} mm"
        return Nowhere(
            reason, f"a way at {_place(search, far)} through {length:.1f} mm of material; {longest} are allowed"
        )
    return Nowhere(reason, listed[0][0] if listed else "")


def _nearest_that_breathes(search: Search) -> str:
    """Where free space that breathes by then is nearest to the start of the cup, however far; "" if nowhere."""
    grid = Field.around(search.findings, search.cup.start, np.inf)
    points = grid.points(grid.label > 0)
    points = points[points[:, 2] <= search.limit]
    points = points[search.breathes(points) & search.may_lead_to(grid.at(points) - 1)]
    if not len(points):
        return ""
    apart = np.linalg.norm(points - search.cup.start, axis=1)
    nearest = int(apart.argmin())
    return f"such space at {_place(search, points[nearest])}, {apart[nearest]:.1f} mm from it"


def _place(search: Search, at: FloatArray) -> str:
    """A build point in the file's axes, in words."""
    return f"({', '.join(f'{x:.1f}' for x in search.findings.scene.frame.to_file(at))}) mm"


def _diameters(asked: float) -> tuple[float, ...]:
    return (asked, *(d for d in SMALLER_MM if d < asked - 1e-9))
