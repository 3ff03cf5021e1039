"""Ways out through another hollow: one straight drill from the skin through a space that does not breathe by itself,
and on into the cup. The last resort: its mouth is an extra hole that is seen.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.ray_kernels import OPEN
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan import candidates
from ventplanner.plan.fitting import WELL_OPEN, Fit, fit
from ventplanner.plan.passage_fit import Bored, Flags, straight
from ventplanner.plan.passage_search import Search, too_near_others

LEVEL_WAYS = 72
"""Ways along the layers are looked at more closely than others: they lose the least height."""

TRIES, ALIKE = 40, 2

BEYOND_MM = 0.2


def through_ones(search: Search, radius: float) -> list[tuple[Bored, int, float, Fit]]:
    """Drills that fit, best first: the passage, the place of the cavity between, the height lost, and the way out."""
    lines = _lines(search, radius)
    good: list[tuple[float, Bored, int, float, Fit]] = []
    own: dict[int, Flags] = {}
    for k in lines.varied():
        to, direction = int(lines.to[k]), lines.direction[k]
        mask = own.setdefault(to, search.own_faces(to))
        about = (float(lines.inner[k, 0]), float(lines.inner[k, 1]))
        bored = straight(search.findings, (lines.origin[k], direction), radius, about, mask)
        text = bored if isinstance(bored, str) else search.objection(bored, to)
        out: Fit | str = text
        if not text:
            out = fit(search.findings, lines.origin[k], direction, radius, (lines.outer[k, 0], lines.outer[k, 1]))
            out = _objection(search, out) or out
        if isinstance(bored, str) or isinstance(out, str):
            search.refused[out if isinstance(out, str) else text] += 1
            continue
        lost = float(lines.lost[k])
        good.append((search.cost(bored, lost) + out.wall, bored, to, lost, out))
    good.sort(key=lambda one: one[0])
    return [(bored, to, lost, out) for _, bored, to, lost, out in good]


def _objection(search: Search, out: Fit | str) -> str:
    """Why a way out will not do, in a few words; "" if it will."""
    if isinstance(out, str):
        return out
    if out.wall > search.rules.longest_wall_mm:
        return f"the wall is longer than {search.rules.longest_wall_mm:g} mm"
    if out.blocked > WELL_OPEN:
        return "the space between is too narrow"
    return too_near_others(out.tool, search.tools)


@dataclass(frozen=True, eq=False)
class _Lines:
    """Straight ways, best first: origin and direction (k, 3); mm along them of the wall round the cup (`inner`, (k, 2))
    and of that to the outside (`outer`, (k, 2)); to: (k,) place of the cavity between; lost: (k,) mm of height."""

    origin: FloatArray
    direction: FloatArray
    inner: FloatArray
    outer: FloatArray
    to: LongArray
    lost: FloatArray

    def varied(self) -> list[int]:
        """The best, of near-equals few."""
        ends = np.concatenate((self.origin + self.outer[:, 1:] * self.direction, self.direction), axis=1)
        seen: dict[tuple[float, ...], int] = {}
        chosen: list[int] = []
        for k, key in enumerate(map(tuple, np.round(ends, 0).tolist())):
            seen[key] = seen.get(key, 0) + 1
            if seen[key] <= ALIKE and len(chosen) < TRIES:
                chosen.append(k)
        return chosen


def _lines(search: Search, radius: float) -> _Lines:
    """All straight ways from the start of the cup through one wall, a hollow, and one more wall to the outside."""
    origin, direction = _rays(search, radius)
    tree, longest = search.current.tree, search.rules.longest_wall_mm
    inner, _ = candidates.march_rays(tree, origin, direction, longest)
    length = candidates.wall_length(inner)
    whole = (length <= longest) & (length >= candidates.THIN_WALL_MM)
    origin, direction, inner = (x[whole] for x in (origin, direction, inner))
    between = origin + (inner[:, 1:] + BEYOND_MM) * direction
    to = search.places.at(between)
    hollow = (to >= 0) & (to != search.home)
    origin, direction, inner, between, to = (x[hollow] for x in (origin, direction, inner, between, to))
    outer, ends = candidates.march_rays(tree, between, direction, longest)
    outer = outer + inner[:, 1:] + BEYOND_MM
    length = candidates.wall_length(outer)
    good = (ends == OPEN) & (length <= longest) & (length >= candidates.THIN_WALL_MM)
    outside = origin + (np.where(np.isfinite(outer[:, 1:]), outer[:, 1:], 0.0) + BEYOND_MM) * direction
    good &= ~candidates.in_a_hollow(search.findings, outside)
    origin, direction, inner, outer, to = (x[good] for x in (origin, direction, inner, outer, to))
    half, start = radius * np.sqrt(1.0 - direction[:, 2] ** 2), search.cup.from_height
    # Open only when both walls have come as far as its lowest line.
    lost = np.maximum(
        candidates.height_lost(tree.runs, origin, direction, inner, half, start),
        origin[:, 2] + outer.max(axis=1) * direction[:, 2] - half - start,
    )
    cost = np.round(candidates.wall_length(inner) + candidates.wall_length(outer) + candidates.HEIGHT_WEIGHT * lost, 2)
    late = lost <= search.findings.options.late_mm
    order = np.lexsort((np.arange(len(cost)), cost, ~late))
    return _Lines(origin[order], direction[order], inner[order], outer[order], to[order], lost[order])


def _rays(search: Search, radius: float) -> tuple[FloatArray, FloatArray]:
    """Origins (k, 3) in the cup, just so high that the drill begins with it, and directions."""
    angle = np.arange(LEVEL_WAYS) * (2.0 * np.pi / LEVEL_WAYS)
    level = np.stack((np.cos(angle), np.sin(angle), np.zeros(LEVEL_WAYS)), axis=1)
    sphere = candidates.sphere_directions()
    ways = np.concatenate((level, sphere[sphere[:, 2] <= 0.5]))
    origin = candidates.raised(search.findings, search.targets, ways, radius)
    direction = np.broadcast_to(ways, origin.shape)
    return np.ascontiguousarray(origin.reshape(-1, 3)), np.ascontiguousarray(direction.reshape(-1, 3))
