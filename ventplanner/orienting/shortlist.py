"""From many directions to a few that are clearly different, each the best in something. The order has one rule."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray
from ventplanner.orienting.coarse import FIGURES
from ventplanner.orienting.model import Candidate, Flags

APART_DEG = 20.0
"""Orientations nearer to each other than this are one choice (own judgement)."""

RANKED = ("vents", "sealed_mm3", "islands", "overhang_mm2", "height_mm")
"""The rule: after cups without a vent, and what is beyond the limit of suction, these decide, in this order; fewer or
less comes first."""

SEALED_MM3, OVERHANG_MM2, HEIGHT_MM, SEEN = 20.0, 4.0, 0.5, 0.1
"""Figures that differ by less than this are alike: the next one decides (own judgement)."""


def front(figures: FloatArray, alike: FloatArray) -> Flags:
    """(n,) bool: whether no other row of (n, k) figures is better in one of them and as good in all others (Pareto).
    Figures are told in steps of `alike`, (k,)."""
    steps = np.floor(figures / alike + 1e-9)
    best = np.ones(len(steps), dtype=bool)
    for n, one in enumerate(steps):
        if best[n]:
            best &= ~((steps >= one).all(axis=1) & (steps > one).any(axis=1))
    return best


def steps_of(figures: FloatArray) -> FloatArray:
    """(FIGURES,) what counts as alike, of rows of coarse figures: at least a share of the largest (own judgement)."""
    least = np.array([1.0, SEALED_MM3, 10.0, 1.0, OVERHANG_MM2, HEIGHT_MM, 10.0, SEEN])
    share = np.array([0.0, 0.02, 0.05, 0.0, 0.05, 0.02, 0.05, 0.0])
    return np.asarray(np.maximum(least, share * figures.max(axis=0, initial=0.0)))


def order(figures: FloatArray, first: str | None = None) -> LongArray:
    """Rows of coarse figures by the rule, best first; `first`: the figure that decides before all others."""
    steps = np.floor(figures / steps_of(figures) + 1e-9)
    names = [name for name in (first, *RANKED) if name is not None]
    height = np.round(figures[:, FIGURES.index("height_mm")], 1)
    return np.lexsort([height, *(steps[:, FIGURES.index(n)] for n in reversed(names))])


@dataclass(frozen=True, eq=False)
class Pool:
    """What is chosen from. to_plate: (n, 3) unit; on_plate: (n,) bool; figures: (n, FIGURES); face: (n,) mm2 that rest
    on the plate."""

    to_plate: FloatArray
    on_plate: Flags
    figures: FloatArray
    face: FloatArray

    def apart(self, chosen: list[int]) -> Flags:
        """(n,) bool: differs clearly from each that is chosen: in its direction and in some figure, or by lying on the
        plate."""
        far = np.ones(len(self.to_plate), dtype=bool)
        step = steps_of(self.figures)
        for k in chosen:
            near = self.to_plate @ self.to_plate[k] > np.cos(np.radians(APART_DEG))
            alike = (np.abs(self.figures - self.figures[k]) < step).all(axis=1)
            far &= ~((near | alike) & (self.on_plate == self.on_plate[k]))
        return far

    def short(self, count: int) -> list[int]:
        """Numbers of at most `count`: the best by the rule, then in turn the best in each other figure and of each kind
        of rest, as long as they differ clearly."""
        step, best = steps_of(self.figures), np.zeros(len(self.figures), dtype=bool)
        for kind in (self.on_plate, ~self.on_plate):  # to lie on the plate is another way to print, not a better one
            best[kind] = front(self.figures[kind], step)
        chosen: list[int] = []
        kinds = [np.ones(len(best), dtype=bool), self.on_plate, ~self.on_plate]
        wishes: list[tuple[str | None, Flags]] = [(None, kinds[0]), (None, kinds[1]), (None, kinds[2])]
        wishes += [(name, kinds[0]) for name in FIGURES[::-1]]
        for first, kind in (*wishes, *[(None, kinds[0])] * count):
            ranked = order(self.figures, first)
            far = self.apart(chosen)
            found = [int(k) for k in ranked if kind[k] and far[k] and (best[k] or kind is kinds[1])]
            if found and len(chosen) < count:
                chosen.append(found[0])
        return chosen


def ranked(candidates: list[Candidate], limit_pa: float) -> tuple[Candidate, ...]:
    """Candidates by the rule, best first, without those that others beat in everything. limit_pa: of the profile, for
    suction and overpressure; orientations that keep it come before those that do not."""
    left = [c for c in candidates if not any(_beats(other, c) for other in candidates)]
    return tuple(sorted(left, key=lambda one: _key(one, limit_pa)))


def _values(one: Candidate) -> tuple[float, ...]:
    f = one.figures
    return (
        f.unserved, f.vents, f.islands, f.sealed_mm3, f.sealed_area_mm2, f.overhang_mm2, f.height_mm,
        f.largest_section_mm2, f.left_mm3 or 0.0, f.seen or 0.0, f.peak_suction_pa or 0.0,
        f.peak_overpressure_pa or 0.0,
    )  # fmt: skip


def _beats(one: Candidate, other: Candidate) -> bool:
    a, b = _values(one), _values(other)
    return one.pose.on == other.pose.on and all(x <= y for x, y in zip(a, b, strict=True)) and a != b


def _key(one: Candidate, limit_pa: float) -> tuple[float, ...]:
    f = one.figures
    beyond = max(f.peak_suction_pa or 0.0, f.peak_overpressure_pa or 0.0) > limit_pa
    return (
        f.unserved, beyond, f.vents, np.floor(f.sealed_mm3 / SEALED_MM3), f.islands,
        np.floor(f.overhang_mm2 / OVERHANG_MM2), round(f.height_mm, 1), *np.round(one.pose.to_plate, 6).tolist(),
    )  # fmt: skip
