"""The pour plan: which way to hold and turn a part so that least of the resin stays in it.

From full hollows, hanging on the plate; then taken off it; then at most four moves, found by a beam search over poses
on coarse cells and followed again on fine ones, turn by turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.draining.bath import Bath, Liquid, Rest
from ventplanner.draining.cells import OUTSIDE, space_of
from ventplanner.draining.model import Drained, How, Step
from ventplanner.draining.mouths import OUT, Doors, Mouth, mouths_of
from ventplanner.draining.steps import left_of, step_of
from ventplanner.draining.waiting import DRIP_S, film_volume
from ventplanner.geometry.rays import square_to
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Plan
from ventplanner.plan.venting import tools_of
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

MOST_TURNS = 4
BEAM = 5
"""So many of the best states are followed further."""

SEARCH_STEP_DEG = 30.0
WORTH = 0.005
"""A further move is worth it if it brings out this share of what the hollows hold, or `WORTH_MM3` (own judgement)."""
WORTH_MM3 = 5.0
SAME_DEG = 8.0

TUNED_DEG = (12.0, 6.0, 3.0)
MOST_TUNED = 3
"""Steps of each size at most, when the last turn is tried a little differently."""

WAYPOINTS = 120
"""In a search turns go by the nearest of so many directions, some 19 degrees apart: far more turns are looked at than
there are ways to hold the part, and how liquid lies in each of these is worked out once."""


@dataclass(frozen=True, eq=False)
class _Way:
    ups: tuple[FloatArray, ...]
    at: Rest

    @property
    def left(self) -> float:
        return self.at.settled.volume


def drain(findings: Findings, plan: Plan, profile: Profile, progress: Progress = silent) -> Drained:
    """Find the pour plan of a part with its vents and passages, and follow it. Raises Cancelled."""
    coarse, bath = baths_of(findings, plan, profile, progress)
    progress("Looking for ways to drain it", 0.2)
    found = _search(coarse, _poses(findings, bath.doors.mouths), progress)
    progress("Following the plan", 0.8)
    done = min((follow(findings, bath, way.ups, profile) for way in found), key=_rank)
    progress("Trying the last turn a little differently", 0.9)
    done = _tuned(findings, bath, done, profile)
    progress("Following the plan", 1.0)
    return done


def _tuned(findings: Findings, bath: Bath, done: Drained, profile: Profile) -> Drained:
    """The same with its last turn a few degrees on, if that brings out more that is worth it: a pattern search (Hooke &
    Jeeves 1961, J. ACM 8, 212) over how it is held then, in ever smaller steps."""
    *before, last = done.steps
    worth = max(WORTH * done.full, WORTH_MM3)
    if last.how != "turn" or done.left - _never(bath) <= worth:
        return done
    best, up = last.rest.settled.volume, last.rest.up
    for size in TUNED_DEG:
        for _ in range(MOST_TUNED):
            # Rocked from there; what really runs on the way is followed at the end.
            tried = [(bath.rest(last.rest.liquid, new).settled.volume, new) for new in _round(up, size)]
            least, new = min(tried, key=lambda pair: pair[0])
            if least >= best - 0.01 * worth:
                break
            best, up = least, new
    if done.left - best <= worth:
        return done
    ups = [step.rest.up for step in before if step.how == "turn"]
    other = follow(findings, bath, [*ups, up], profile)
    return other if other.left < done.left - worth else done


def _round(up: FloatArray, size_deg: float) -> list[FloatArray]:
    """Six directions so many degrees from one."""
    angle, (one, other) = np.radians(size_deg), square_to(up)
    ways = [np.cos(a) * one + np.sin(a) * other for a in np.radians(60.0 * np.arange(6))]
    return [np.cos(angle) * up + np.sin(angle) * way for way in ways]


def baths_of(findings: Findings, plan: Plan, profile: Profile, progress: Progress = silent) -> tuple[Bath, Bath]:
    """The hollows of a part with its vents and passages, full: in coarse cells, and in fine ones. Raises Cancelled."""
    progress("Dividing the hollows", 0.0)
    rough, fine = space_of(findings, tools_of(findings, plan))
    mouths, liquid = mouths_of(findings, plan), Liquid.of(profile)
    plate = findings.options.layer_mm if findings.pose.on == "plate" else None
    return Bath(rough, Doors.of(rough, mouths), liquid, plate), Bath(fine, Doors.of(fine, mouths), liquid, plate)


def follow(findings: Findings, bath: Bath, ups: Sequence[FloatArray], profile: Profile) -> Drained:
    """A plan of given poses, from full hollows: hanging, taken off, then these, each the unit vector that is up, (3,)
    in build axes."""
    hanging = np.array([0.0, 0.0, -1.0])
    return _carried_out(findings, bath, [("hanging", hanging), ("taken off", hanging), *_turns(ups)], profile)


def hold(findings: Findings, bath: Bath, ups: Sequence[FloatArray], profile: Profile) -> Drained:
    """From full hollows, wherever the part has been before: held so, then turned on to the others, `ups` as in
    `follow`, at least one."""
    return _carried_out(findings, bath, [("held", ups[0]), *_turns(ups[1:])], profile)


def _turns(ups: Sequence[FloatArray]) -> list[tuple[How, FloatArray]]:
    return [("turn", up) for up in ups]


def _carried_out(
    findings: Findings, bath: Bath, moves: Sequence[tuple[How, FloatArray]], profile: Profile
) -> Drained:  # fmt: skip
    liquid, steps = bath.full, list[Step]()
    last, most = moves[0][1], liquid
    for n, (how, up) in enumerate(moves):
        at = bath.turned(liquid, last, up) if how == "turn" else bath.rest(liquid, up, plate=how == "hanging")
        drip = DRIP_S if n == len(moves) - 1 and _has_run(bath, at) else 0.0
        steps.append(step_of(findings, bath, how, liquid, at, profile, drip))
        liquid, last, most = at.liquid, up, bath.held_back(at, most)
    film = film_volume(findings, bath, at, steps[-1].wait_s)
    at_most = max(float(most.sum()), steps[-1].left) + film
    left = left_of(findings, steps[-1], bath)
    return Drained(float(bath.full.sum()), tuple(steps), left, film, at_most, bath)


def _has_run(bath: Bath, at: Rest) -> bool:
    """Whether anything to speak of has left the cavities, so that a film is left to run off."""
    inside = bath.cells.cavity >= 0
    own = inside if inside.any() else np.ones(len(inside), dtype=bool)
    return bool(at.liquid[own].sum() < 0.99 * bath.full[own].sum())


def _rank(done: Drained) -> float:
    return done.left + (len(done.steps) - 2) * max(WORTH * done.full, WORTH_MM3)


def _poses(findings: Findings, mouths: tuple[Mouth, ...]) -> list[FloatArray]:
    """Ways to hold it: each side, edge and corner of its file's axes down, and each mouth."""
    sides = [np.array(v, dtype=float) for v in product((-1, 0, 1), repeat=3) if any(v)]
    ups = [findings.scene.frame.direction_to_build(v / np.linalg.norm(v)) for v in sides]
    for mouth in mouths:
        along = mouth.inner - mouth.outer
        up = along / max(float(np.linalg.norm(along)), 1e-12)
        if mouth.beyond == OUT and all(float(up @ u) < np.cos(np.radians(SAME_DEG)) for u in ups):
            ups.append(up)
    return ups


def _search(bath: Bath, poses: list[FloatArray], progress: Progress) -> list[_Way]:
    """The best ways with up to `MOST_TURNS` turns: one for each number of turns that is worth it, the best first."""
    hanging = np.array([0.0, 0.0, -1.0])
    start = bath.rest(bath.rest(bath.full, hanging, plate=True).liquid, hanging)
    beam, best = [_Way((), start)], [_Way((), start)]
    worth = max(WORTH * float(bath.full.sum()), WORTH_MM3)
    sealed, by = _never(bath), _all_round(WAYPOINTS)
    for turn in range(MOST_TURNS):
        if best[-1].left - sealed <= worth:
            break
        tried = []
        for n, way in enumerate(beam):
            progress("Looking for ways to drain it", 0.2 + 0.6 * (turn + n / len(beam)) / MOST_TURNS)
            for up in poses:
                if float(up @ way.at.up) < np.cos(np.radians(SAME_DEG)):
                    at = bath.turned(way.at.liquid, way.at.up, up, SEARCH_STEP_DEG, by)
                    tried.append(_Way((*way.ups, up), at))
        tried.sort(key=lambda w: (round(w.left, 1), _angle(w)))
        beam = _apart(tried)
        if beam[0].left > best[-1].left - worth and turn > 0:
            break
        best.append(beam[0])
    return best[:-3:-1]


def _all_round(count: int) -> FloatArray:
    """(count, 3) unit vectors evenly spread: a spiral by the golden angle (R. Swinbank & R. J. Purser 2006, Q. J. R.
    Meteorol. Soc. 132, 1769)."""
    z = 1.0 - (2.0 * np.arange(count) + 1.0) / count
    angle, r = np.pi * (3.0 - np.sqrt(5.0)) * np.arange(count), np.sqrt(1.0 - z**2)
    return np.stack([r * np.cos(angle), r * np.sin(angle), z], axis=1)


def _angle(way: _Way) -> float:
    """Degrees turned in all, rounded: of equal ways the one with the shorter turns."""
    ups = (np.array([0.0, 0.0, -1.0]), *way.ups)
    return float(sum(round(np.degrees(np.arccos(np.clip(a @ b, -1, 1)))) for a, b in pairwise(ups)))


def _apart(tried: list[_Way]) -> list[_Way]:
    """The best of them, each with its liquid somewhere else."""
    kept: list[_Way] = []
    for way in tried:
        if len(kept) == BEAM:
            break
        if all(np.abs(way.at.liquid - k.at.liquid).sum() > 0.02 * max(way.left, 1.0) for k in kept):
            kept.append(way)
    return kept or tried[:1]


def _never(bath: Bath) -> float:
    """mm3 in cavities without any mouth to a way out, or into which no air gets however they are held: no turn brings
    that out."""
    joined = {OUT}
    while True:
        more = {m.cavity for m in bath.doors.mouths if m.beyond in joined} - joined
        if not more:
            break
        joined |= more
    tied = np.unique(bath.cells.cavity[bath.cells.ends][(bath.cells.ends == OUTSIDE).any(axis=1)])
    shut = ~np.isin(bath.cells.cavity, [*joined, *tied.tolist()]) & (bath.cells.cavity >= 0)
    shut |= np.isin(bath.cells.cavity, bath.airless)
    return float(bath.cells.volume[shut].sum())
