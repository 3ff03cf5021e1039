"""Bent passages: two straight legs that meet in the material, where no straight way is free.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.cylinder import corner_radius, segments_for
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan import candidates
from ventplanner.plan.model import knee_reach
from ventplanner.plan.passage_field import MATERIAL
from ventplanner.plan.passage_fit import TOO_NEAR, Bored, Flags, clearance, half, nearest
from ventplanner.plan.passage_search import CLEARANCE_WEIGHT, COMFORT_MM, Search
from ventplanner.plan.refusal import Refusal

KNEES, ENDS = 600, 200
"""Places in the material where two legs may meet, and places in the space that breathes."""

BAND_MM, MOST = 8.0, 6000
"""Knees and ends are sought in a band of this height below where a passage would begin too high, among so many
cells."""

TRIES = 24
SHARPEST_COS = -0.17
"""Two legs turn by 100 degrees at most: further, the second one goes back beside the first."""

STEPS = 48
PROBE_MM = 2.0
OBLIQUE_COS, OBLIQUE_WEIGHT = 0.55, 3.0
"""Legs that meet a skin at more than some 55 degrees from square do not fit; so many mm of length would be as bad as
one along the skin."""

UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, eq=False)
class _Legs:
    """Legs between places in a hollow and knees: mm in material, (hollows, knees), inf where the way is not free; and
    the least room along them, mm; square: cosine of their angle to the square on the skin there, about."""

    length: FloatArray
    room: FloatArray
    square: FloatArray

    def cost(self, radius: float, least: float) -> FloatArray:
        """mm of length that would be as bad, inf where a leg is no good; least: mm of room that its axis needs."""
        bad = ~np.isfinite(self.length) | (self.room < least) | (self.square < OBLIQUE_COS)
        tight = np.maximum(COMFORT_MM + radius - self.room, 0.0)
        cost = self.length + CLEARANCE_WEIGHT * tight + OBLIQUE_WEIGHT * (1.0 - self.square)
        return np.where(bad, np.inf, cost)


def bent_ones(search: Search, radius: float) -> list[tuple[Bored, int, float]]:
    """Bent passages that fit, best first, as `straight_ones`."""
    starts = search.targets + radius * UP
    good: list[tuple[float, Bored, int, float]] = []
    label = search.cells.at(search.breathing_space)
    for to in np.unique(label).tolist():
        space = search.breathing_space[label == to]
        level = space[:, 2] >= search.limit + radius - BAND_MM
        ends = _spread(search, space[level] if level.any() else space, ENDS)
        own = search.own_faces(to - 1)
        for start, knee, end in _chosen(search, radius, starts, ends, to):
            bored = bent(search, (start, knee, end), radius, own)
            text = bored if isinstance(bored, str) else search.objection(bored, to - 1)
            if isinstance(bored, str) or text:
                search.refused[text] += 1
                continue
            flat = np.sqrt(np.maximum(1.0 - (np.diff(bored.stops, axis=0)[:, 2] / _lengths(bored.stops)) ** 2, 0.0))
            lost = max(0.0, float(bored.stops[:, 2].max() - radius * flat.min()) - search.cup.from_height)
            good.append((search.cost(bored, lost), bored, to - 1, lost))
    good.sort(key=lambda one: one[0])
    return [(bored, to, lost) for _, bored, to, lost in good]


def _spread(search: Search, points: FloatArray, count: int) -> FloatArray:
    near = np.argsort(np.linalg.norm(points - search.cup.start, axis=1), kind="stable")
    return candidates.spread(points[near[:: 1 + len(near) // MOST]], count)


def _lengths(stops: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.norm(np.diff(stops, axis=0), axis=1))


def _chosen(
    search: Search, radius: float, starts: FloatArray, ends: FloatArray, to: int
) -> list[tuple[FloatArray, FloatArray, FloatArray]]:
    """Start, knee and end of the bent ways that are free on the coarse grid, best first, each knee once."""
    grid = search.cells
    home = search.home + 1 if search.home >= 0 else to
    least = radius + search.rules.passage_wall_mm
    at_knee = np.sqrt(2.0) * radius + search.rules.passage_wall_mm  # the legs reach so far beyond it, at right angles
    solid_room = grid.room()
    inner = (grid.label == MATERIAL) & (solid_room >= at_knee + 0.25 * grid.size)
    points = grid.points(inner)
    points = points[np.abs(points[:, 2] - search.limit - radius + 0.5 * BAND_MM) <= 0.5 * BAND_MM]
    if not len(points):
        return []
    knees = _spread(search, points, KNEES)
    room = grid.room(to, home)
    first, last = (_legs(search, knees, places, room, label) for places, label in ((starts, home), (ends, to)))
    costs = [legs.cost(radius, least - 1.5 * grid.size) for legs in (first, last)]
    found = []
    for k in range(len(knees)):
        one, other = np.argsort(costs[0][:, k], kind="stable")[:6], np.argsort(costs[1][:, k], kind="stable")[:6]
        best: tuple[float, int, int] | None = None
        for s in one.tolist():
            for e in other.tolist():
                total = float(costs[0][s, k] + costs[1][e, k])
                length = first.length[s, k] + last.length[e, k]
                if not np.isfinite(total) or length > search.rules.longest_wall_mm:
                    continue
                a, b = knees[k] - starts[s], ends[e] - knees[k]
                if a @ b < SHARPEST_COS * np.linalg.norm(a) * np.linalg.norm(b):
                    continue
                if knees[k][2] < min(starts[s][2], ends[e][2]) - 0.5 * radius:
                    continue  # lower than both of its ends, it would be a cup itself
                if best is None or total < best[0]:
                    best = (total, s, e)
        if best is not None:
            high = max(0.0, float(knees[k][2]) - radius - search.cup.from_height)
            found.append((best[0] + candidates.HEIGHT_WEIGHT * high, starts[best[1]], knees[k], ends[best[2]]))
    found.sort(key=lambda one: one[0])
    return [(a, b, c) for _, a, b, c in found[:TRIES]]


def _legs(search: Search, knees: FloatArray, places: FloatArray, room: FloatArray, label: int) -> _Legs:
    """All legs from places in the hollow of this label to knees: first free, then material to the knee."""
    grid = search.cells
    length, least, square = (np.empty((len(places), len(knees))) for _ in range(3))
    apart = grid.toward(label)
    share = np.linspace(0.0, 1.0, STEPS)
    for n, place in enumerate(places):
        index = grid.index(place + share[None, :, None] * (knees - place)[:, None])
        here, gap = grid.label[index], room[index]
        solid = here == MATERIAL
        begins = solid.argmax(axis=1)
        once = (np.cumsum(~solid, axis=1)[:, -1] == begins) & (begins > 0)
        once &= np.where(np.arange(STEPS) < begins[:, None], here == label, True).all(axis=1)
        step = np.linalg.norm(knees - place, axis=1) / (STEPS - 1)
        deep = np.minimum(begins + np.ceil(PROBE_MM / step).astype(np.int64), STEPS - 1)
        at = tuple(axis[np.arange(len(knees)), deep] for axis in index)
        square[n] = apart[at] / np.maximum((deep - begins + 0.5) * step, 1e-9)
        span = np.linalg.norm(knees - place, axis=1) * (1.0 - share[begins])
        length[n] = np.where(once, span, np.inf)
        least[n] = np.where(solid, gap, np.inf).min(axis=1)
    return _Legs(length, least, np.minimum(square, 1.0))


def bent(search: Search, stops: tuple[FloatArray, FloatArray, FloatArray], radius: float, own: Flags) -> Bored | str:
    """The bent passage along three places (in the cup or at its skin, in the material, at or beyond the other skin),
    measured exactly; or why there is none."""
    start, knee, end = stops
    inner, outer = (half(search.findings, knee, at, radius, in_cup) for at, in_cup in ((start, True), (end, False)))
    if isinstance(inner, str):
        return inner
    if isinstance(outer, str):
        return outer
    ways = [(at - knee) / np.linalg.norm(at - knee) for at in (start, end)]
    skins = np.array([knee + inner[0] * ways[0], knee, knee + outer[0] * ways[1]])
    over = knee_reach([tuple(p) for p in skins], radius)
    if min(inner[0], outer[0]) <= over:
        return Refusal("its legs would be too short to bend", knee)
    hollow = nearest(search.findings, knee[None], np.zeros(len(own), dtype=bool))
    if hollow < np.hypot(over, corner_radius(radius, segments_for(radius))) + search.rules.passage_wall_mm:
        return Refusal(TOO_NEAR, knee)
    tips = [skins[0] + inner[1] * ways[0], knee - over * ways[0], knee - over * ways[1], skins[2] + outer[1] * ways[1]]
    gap = min(clearance(search.findings, np.array(pair), radius, own) for pair in (tips[:2], tips[2:]))
    return Bored(skins, radius, outer[1], inner[1], gap, inner[2])
