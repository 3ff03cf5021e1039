"""Straight passages: many rays from the start of a cup, measured on the column runs; the best are fitted exactly.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np

from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan import candidates
from ventplanner.plan.passage_fit import TOO_NEAR, Bored, Flags, measured, straight_unmeasured
from ventplanner.plan.passage_search import Search, cost_of

AIMED = 60
"""Places in the space that breathes at which ways are aimed."""

TRIES = 40
"""Best ways that are fitted exactly for one cup and diameter."""

ALIKE = 2
"""Of ways from one place that end within a mm of each other, so many are fitted: near-equals fail alike."""

SAMPLES = 16


def straight_ones(search: Search, radius: float) -> Iterator[tuple[Bored, int, float]]:
    """Straight passages that fit, best first: each with the place of the cavity it leads to and the height lost.

    How much material stays round one costs the most to measure, and only makes it worse: it is asked only of those that
    could still be the next best.
    """
    lines = _lines(search, radius)
    ready: list[tuple[float, int, Bored, int, float]] = []
    own: dict[int, Flags] = {}
    for least, number, k, rough in _fitted(search, lines, radius):
        while ready and ready[0][:2] < (least, number):
            yield heappop(ready)[2:]
        to, lost = int(lines.to[k]), float(lines.lost[k])
        mask = own[to] = own[to] if to in own else search.own_faces(to)
        bored = measured(search.findings, rough, mask)
        text = search.objection(bored, to)
        if text:
            search.refused[text] += 1
        else:
            heappush(ready, (search.cost(bored, lost), number, bored, to, lost))
    while ready:
        yield heappop(ready)[2:]


def _fitted(search: Search, lines: _Lines, radius: float) -> list[tuple[float, int, int, Bored]]:
    """The best ways fitted: the least that each may cost, its number, its line, and itself without its clearance."""
    found = []
    for number, k in enumerate(lines.varied()):
        about = (float(lines.wall[k, 0]), float(lines.wall[k, 1]))
        rough = straight_unmeasured(search.findings, (lines.origin[k], lines.direction[k]), radius, about)
        if isinstance(rough, str):
            search.refused[rough] += 1
        else:
            found.append((search.cost(rough, float(lines.lost[k])), number, k, rough))
    return sorted(found, key=lambda one: one[:2])


@dataclass(frozen=True, eq=False)
class _Lines:
    """Straight ways, best first: origin and direction (k, 3); wall (k, 2) mm along them; to: (k,) place of the cavity
    they lead to; lost: (k,) mm of height."""

    origin: FloatArray
    direction: FloatArray
    wall: FloatArray
    to: LongArray
    lost: FloatArray

    def varied(self) -> list[int]:
        """The best, but of near-equals few."""
        seen: Counter[tuple[float, ...]] = Counter()
        chosen = []
        end = np.round(self.origin + self.wall[:, 1:] * self.direction)
        begin = np.round(self.origin + self.wall[:, :1] * self.direction)
        for k in range(len(self.lost)):
            key = (*begin[k].tolist(), *end[k].tolist())
            seen[key] += 1
            if seen[key] <= ALIKE:
                chosen.append(k)
            if len(chosen) == TRIES:
                break
        return chosen


def _lines(search: Search, radius: float) -> _Lines:
    """All straight ways from the start of the cup through one wall to space that breathes, best first."""
    origin, direction = _rays(search, radius)
    tree, longest = search.current.tree, search.rules.longest_wall_mm
    wall, _ = candidates.march_rays(tree, origin, direction, longest)
    length = candidates.wall_length(wall)
    whole = (length <= longest) & (length >= candidates.THIN_WALL_MM)
    longer = np.where(length > longest, length, np.inf)
    shortest = int(np.argmin(longer)) if len(longer) else -1
    if shortest >= 0 and longer[shortest] < search.shortest_miss[0]:
        middle = origin[shortest] + wall[shortest].mean() * direction[shortest]
        search.shortest_miss = (float(longer[shortest]), middle)
    origin, direction, wall, length = (x[whole] for x in (origin, direction, wall, length))
    pitch = tree.runs.grid.pitch
    beyond = origin + (wall[:, 1:] + 0.2) * direction
    to = search.places.at(beyond)
    good = search.breathes(beyond) & search.may_lead_to(to) & (search.places.at(beyond + pitch * direction) == to)
    origin, direction, wall, length, beyond, to = (x[good] for x in (origin, direction, wall, length, beyond, to))
    half = radius * np.sqrt(1.0 - direction[:, 2] ** 2)
    start = search.cup.from_height
    lost = candidates.height_lost(tree.runs, origin, direction, wall, half, start)
    run = tree.runs.run_at(beyond)
    lost = np.maximum(lost, np.maximum(tree.runs.z0[run], tree.opens[tree.branch_of_run[run]]) - start)
    room = _room_along(search, origin, direction, wall, to) - radius
    # The cells are coarse: what they see as a little too near is measured.
    near = room < search.rules.passage_wall_mm - 1.5 * search.cells.size
    search.refused.update({TOO_NEAR: int(near.sum())} if near.any() else {})
    cost = cost_of(length, lost, room, np.arcsin(np.abs(direction[:, 2])))
    late = np.maximum(lost - search.findings.options.late_mm, 0.0)
    cost = np.where(near, np.inf, cost + candidates.TOO_LATE_WEIGHT * late)
    order = np.lexsort((np.arange(len(cost)), np.round(cost, 2)))
    order = order[np.isfinite(cost[order])]
    return _Lines(origin[order], direction[order], wall[order], to[order], lost[order])


def _rays(search: Search, radius: float) -> tuple[FloatArray, FloatArray]:
    """Origins (k, 3) in the cup, just so high that the passage begins with it, and directions."""
    targets = search.targets
    sphere = candidates.sphere_directions()
    sphere = sphere[sphere[:, 2] <= 0.5]
    space = search.breathing_space
    nearest = np.argsort(np.linalg.norm(space - search.cup.start, axis=1), kind="stable")
    aims = candidates.spread(space[nearest[:4000]], AIMED)
    up = np.array([0.0, 0.0, 1.0])
    aimed = aims[None] - (targets[:, None] + radius * up)
    aimed /= np.maximum(np.linalg.norm(aimed, axis=2, keepdims=True), 1e-9)
    direction = np.concatenate((np.broadcast_to(sphere, (len(targets), *sphere.shape)), aimed), axis=1)
    origin = candidates.raised(search.findings, targets, direction, radius)
    return np.ascontiguousarray(origin.reshape(-1, 3)), np.ascontiguousarray(direction.reshape(-1, 3))


def _room_along(
    search: Search, origin: FloatArray, direction: FloatArray, wall: FloatArray, to: LongArray
) -> FloatArray:
    """(k,) mm from the axis of each way, in its wall, to the nearest space but the two that it joins, about."""
    share = np.linspace(0.0, 1.0, SAMPLES)
    along = wall[:, :1] + share * (wall[:, 1:] - wall[:, :1])
    points = origin[:, None] + along[..., None] * direction[:, None]
    least = np.empty(len(origin))
    for place in np.unique(to):
        mine = to == place
        room = search.cells.room(int(place) + 1, search.home + 1 if search.home >= 0 else int(place) + 1)
        least[mine] = room[search.cells.index(points[mine])].min(axis=1, initial=np.inf)
    return least
