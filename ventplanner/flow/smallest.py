"""The smallest vents that keep the limits, found by solving the network with trial diameters.

Vents of one hollow do not share the flow equally: near its start one bears all of it, while the others are still above
the layer being printed, and a throat parts rooms. So the heights are gone through from the plate on. Where the limit is
not kept, the vents that are complete there get wider, together, until it is kept; a vent that is printed later stays as
narrow as it may be. A wider hole resists less at every height, so going on keeps what was found.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.flow.ground import Ground
from ventplanner.flow.network import Flags
from ventplanner.flow.solving import Stage, complete_from, counted, heights_of, speeds
from ventplanner.flow.suction import ways_of
from ventplanner.flow.ways import Hole, Way
from ventplanner.geometry.solid import FloatArray
from ventplanner.profile import Profile

PER_MM = 100
"""Trial diameters are told apart to a hundredth of a mm."""

WIDEST_MM = 20.0
STEP_MM = 0.1

Widths = Mapping[str, float]


@dataclass(frozen=True)
class Bears:
    """What makes a vent need its width. room: whose limit is met, by its name. height: build height in mm. flow: m3/s
    through the vent there, share: of all that is drawn through vents and openings of its hollow."""

    room: str
    height: float
    flow: float
    share: float


@dataclass(frozen=True)
class Asked:
    """diameter: mm, smallest that keeps the limit; 0 where any will do, inf where none does. bears: where and why; None
    where any will do."""

    diameter: float
    bears: Bears | None = None


@dataclass(frozen=True)
class Group:
    """Rooms that hang together through throats and vents, and the vents into them."""

    rooms: frozenset[int]
    holes: tuple[Hole, ...]


def groups_of(ground: Ground, holes: Sequence[Hole]) -> list[Group]:
    """The vents by the rooms that they serve; those that join nothing that is apart are in none."""
    ways = ways_of(ground, holes, {})
    sets: list[set[int]] = []
    for way in ways:
        inner = {way.a, way.b} - {0}
        for other in [s for s in sets if s & inner]:
            inner |= other
            sets.remove(other)
        sets.append(inner)
    leads = {way.name: {way.a, way.b} for way in ways if way.name}
    found = [Group(frozenset(s), tuple(h for h in holes if leads.get(h.name, set()) & s)) for s in sets]
    return [group for group in found if group.holes]


@dataclass(frozen=True, eq=False)
class _Trial:
    """The network of a group with trial diameters. each: (k, hollows) Pa, of its rooms in their steady part at each
    height; pressure: (k,) the largest of them; hollow: (k,) number of the hollow (in `ground.hollows`) that has it."""

    stage: Stage
    ways: tuple[Way, ...]
    pressure: FloatArray
    hollow: np.ndarray
    each: FloatArray
    flow: FloatArray

    @classmethod
    def of(
        cls, ground: Ground, profile: Profile, group: Group, ways: tuple[Way, ...], heights: FloatArray,
        how: tuple[float, float], never: frozenset[int] | None = None,
    ) -> _Trial:  # fmt: skip
        """how: speed in mm/min and gap in mm. never: hollows (by number) that are known never to breathe through a
        complete way; heights may be few then."""
        stage = Stage.of(ground, profile, ways, heights)
        found = stage.at(*how)
        each = np.zeros((len(heights), len(ground.hollows)))
        for number, hollow in enumerate(ground.hollows):
            room = hollow.room
            if room not in group.rooms:
                continue
            here = (heights >= hollow.within[0]) & (heights < hollow.within[1]) & (stage.area[:, room] > 0.0)
            own = [w for w in ways if room in (w.a, w.b)]
            here &= _steady(
                heights, found.fed[:, room], own, hollow.within[1], None if never is None else number in never
            )
            each[:, number] = np.where(here, found.pressure[:, room], 0.0)
        worst = each.max(axis=1, initial=0.0)
        which = np.where(worst > 0.0, each.argmax(axis=1), -1) if len(ground.hollows) else np.full(len(heights), -1)
        return cls(stage, ways, worst, which, each, found.flow)


def _steady(heights: FloatArray, fed: Flags, own: Sequence[Way], until: float, never: bool | None) -> Flags:
    """Where a room's pressure counts: from its first complete way on; everywhere if it never has one. never: whether
    that is so, if it is known."""
    if never is None:
        return np.asarray(heights >= complete_from(heights, fed, own, until))
    return np.full(len(heights), True) if never or not own else fed & (heights >= min(w.high for w in own))


def _never(ground: Ground, group: Group, trial: _Trial) -> frozenset[int]:
    """Hollows that have no complete way at any height."""
    heights, fed = trial.stage.heights, trial.stage.at(1.0, 0.0).fed
    told = []
    for number, hollow in enumerate(ground.hollows):
        own = [w for w in trial.ways if hollow.room in (w.a, w.b)]
        if hollow.room in group.rooms and math.isinf(
            complete_from(heights, fed[:, hollow.room], own, hollow.within[1])
        ):
            told.append(number)
    return frozenset(told)


class _Search:
    """Goes through the heights of one group. Widths are held in hundredths of a mm."""

    def __init__(
        self, ground: Ground, profile: Profile, group: Group, fixed: frozenset[str], how: tuple[float, float]
    ) -> None:
        self._ground, self._profile, self._group, self._fixed, self._how = ground, profile, group, fixed, how
        self._limit = 1000.0 * profile.suction_limit_kpa

    def run(self, least: Widths) -> dict[str, Asked]:
        """Asked of each vent by name."""
        width = {h.name: h.diameter if h.name in self._fixed else least[h.name] for h in self._group.holes}
        asked = {h.name: Asked(0.0) for h in self._group.holes}
        beyond = -math.inf  # below this height nothing more can be done
        while True:
            ways = self.ways(width)
            trial = self._trial(ways, self.heights(ways))
            over = np.flatnonzero((trial.pressure > self._limit) & (trial.stage.heights > beyond))
            if not len(over):
                return asked
            start = float(trial.stage.heights[over[0]])
            until, every = self._may_get_wider(ways, start)
            wider = self._for_those(ways, every, self._over(trial, (start, until)))
            found = self._level(width, wider, trial, (start, until))
            if found is None and wider != every:
                wider, found = every, self._level(width, every, trial, (start, until))
            if found is None:
                beyond = until
                told = self._bears(trial, int(over[0]), "")
                for name in wider or self._first(ways):
                    asked[name] = Asked(math.inf, told)
                continue
            level, at = found
            for name in wider:
                if width[name] < level:
                    asked[name] = asked[name] if math.isinf(asked[name].diameter) else Asked(level, at[name])
                    width[name] = up_to_tenth(level)

    def ways(self, width: Widths) -> tuple[Way, ...]:
        """Of the group, with vents of these widths in mm."""
        holes = [replace(h, diameter=width[h.name]) for h in self._group.holes]
        every = ways_of(self._ground, holes, {})
        return tuple(w for w in every if {w.a, w.b} & self._group.rooms)

    def heights(self, ways: tuple[Way, ...]) -> FloatArray:
        """Where a room of the group draws."""
        every = heights_of(self._ground, ways, self._profile)
        return every[counted(self._ground, self._profile, every)[:, sorted(self._group.rooms)].any(axis=1)]

    def _trial(self, ways: tuple[Way, ...], heights: FloatArray, never: frozenset[int] | None = None) -> _Trial:
        return _Trial.of(self._ground, self._profile, self._group, ways, heights, self._how, never)

    def _may_get_wider(self, ways: tuple[Way, ...], height: float) -> tuple[float, list[str]]:
        """Vents that bear the flow at a height (complete ones, or if there is none those begun), and the height from
        which it is others."""
        own = [w for w in ways if w.name and w.name not in self._fixed]
        complete = [w.name for w in own if w.high <= height]
        wider = complete or [w.name for w in own if w.low < height]
        later = [x for w in own for x in ((w.high,) if complete or w.low < height else (w.low, w.high)) if x > height]
        return min(later, default=math.inf), wider

    def _over(self, trial: _Trial, span: tuple[float, float]) -> set[int]:
        """Rooms that are above the limit somewhere in a span of heights."""
        heights = trial.stage.heights
        over = (trial.each[(heights >= span[0]) & (heights < span[1])] > self._limit).any(axis=0)
        return {self._ground.hollows[k].room for k in np.flatnonzero(over).tolist()}

    @staticmethod
    def _for_those(ways: tuple[Way, ...], names: list[str], rooms: set[int]) -> list[str]:
        """Of these vents and passages those that bear what some rooms take in: a passage only what lies behind it."""
        named = {w.name: w for w in ways if w.name in names}
        return [n for n in names if named[n].b == 0 or behind(named[n], ways) & rooms] or names

    def _first(self, ways: tuple[Way, ...]) -> list[str]:
        """The vent that is printed first."""
        own = [w for w in ways if w.name and w.name not in self._fixed]
        return [min(own, key=lambda w: w.high).name] if own else []

    def _level(
        self, width: Widths, wider: list[str], trial: _Trial, span: tuple[float, float]
    ) -> tuple[float, dict[str, Bears]] | None:
        """The smallest common width in mm of these vents that keeps the limit at all heights of the span, and what each
        then bears; None if none does."""
        heights = trial.stage.heights
        here = heights[(heights >= span[0]) & (heights < span[1])]
        never = _never(self._ground, self._group, trial)

        def tried(hundredths: int) -> _Trial:
            level = hundredths / PER_MM
            return self._trial(self.ways(dict(width) | {n: max(width[n], level) for n in wider}), here, never)

        low, high = round(PER_MM * min((width[n] for n in wider), default=WIDEST_MM)), round(PER_MM * WIDEST_MM)
        if not wider or low >= high:
            return None
        last = tried(high)
        if last.pressure.max() > self._limit:
            return None
        worst = float(trial.pressure[np.isin(trial.stage.heights, here)].max())
        while high - low > 1:
            middle = _between(low, worst, high, float(last.pressure.max()), self._limit)
            found = tried(middle)
            if found.pressure.max() > self._limit:
                low, worst = middle, float(found.pressure.max())
            else:
                high, last = middle, found
        at = int(np.argmax(last.pressure))
        return high / PER_MM, {name: self._bears(last, at, name) for name in wider}

    def _bears(self, trial: _Trial, at: int, name: str) -> Bears:
        """What a vent ("": none) bears at a height of a trial."""
        numbers = [k for k, w in enumerate(trial.ways) if w.name == name and name]
        flow = abs(float(trial.flow[at, numbers[0]])) if numbers else 0.0
        out = [k for k, w in enumerate(trial.ways) if w.b == 0]
        whole = float(np.abs(trial.flow[at, out]).sum())
        hollow = self._ground.hollows[int(trial.hollow[at])]
        return Bears(
            hollow.cup or hollow.cavity or "the hollow", float(trial.stage.heights[at]), flow,
            flow / whole if whole > 0.0 else 0.0,
        )  # fmt: skip


def behind(passage: Way, ways: Sequence[Way]) -> set[int]:
    """Rooms on the cup's side of a passage, as far as other ways lead on inside."""
    found = {passage.a}
    inner = [{w.a, w.b} - {0} for w in ways if w is not passage]
    while more := set().union(*(rooms for rooms in inner if rooms & found)) - found:
        found |= more
    return found


def _between(low: int, more: float, high: int, less: float, limit: float) -> int:
    """A width between two, of which the first has more pressure than the limit and the second less: where a power law
    through both meets the limit, a little off towards the nearer one, so that both sides close in."""
    if not math.isfinite(more) or less <= 0.0 or high - low < 8:
        return (low + high) // 2
    share = math.log(more / limit) / math.log(more / less)
    guess: float = low * (high / low) ** share * (1.01 if share < 0.5 else 0.99)
    return min(max(round(guess), low + 1), high - 1)


def up_to_tenth(millimetres: float) -> float:
    """To the next tenth of a mm."""
    if math.isinf(millimetres):
        return millimetres
    return round(math.ceil(millimetres / STEP_MM - 1e-9) * STEP_MM, 1)


def smallest(
    ground: Ground, profile: Profile, group: Group, least: Widths, fixed: frozenset[str] = frozenset(), *, up: bool
) -> dict[str, Asked]:
    """What the limit asks of each vent of a group, by name, at the lift (`up`) or on the way down.

    least: mm, by name, what each has at least (what prints open). fixed: vents that keep their own diameter.
    """
    return _Search(ground, profile, group, fixed, speeds(profile)[0 if up else 1]).run(least)


def fastest(ground: Ground, profile: Profile, group: Group, *, up: bool) -> float:
    """mm/min: the speed at which the vents of a group, as wide as they are, just keep the limit; inf where nothing
    flows, 0 where no speed keeps it. Inertia grows faster than the speed: proportion alone would promise too much."""
    now, gap = speeds(profile)[0 if up else 1]
    limit = 1000.0 * profile.suction_limit_kpa
    search = _Search(ground, profile, group, frozenset(), (now, gap))
    ways = search.ways({h.name: h.diameter for h in group.holes})
    heights = search.heights(ways)

    def at(speed: float) -> float:
        return float(_Trial.of(ground, profile, group, ways, heights, (speed, gap)).pressure.max(initial=0.0))

    first = at(now)
    if first <= 0.0 or math.isinf(first):
        return math.inf if first <= 0.0 else 0.0
    # What flows resists at least in proportion to the speed.
    guess = now * limit / first
    low, high = min(guess, now), max(guess, now)
    while at(low) > limit:
        low *= 0.1
        if low < 1e-6 * now:
            return 0.0
    if at(high) <= limit:
        return high
    while high > 1.001 * low:
        middle = math.sqrt(low * high)
        low, high = (middle, high) if at(middle) <= limit else (low, middle)
    return low
