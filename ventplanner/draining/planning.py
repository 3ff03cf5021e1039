"""The pour plan: which way to hold and turn a part so that least of the resin stays in it.

From full hollows, hanging on the plate; then taken off it; then at most four moves, found by a beam search over poses
on coarse cells and followed again on fine ones, turn by turn.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.draining.bath import Bath, Liquid, Rest
from ventplanner.draining.cells import OUTSIDE, Cells, space_of
from ventplanner.draining.model import Drained, How, Left, Pool, Ran, Step, Why
from ventplanner.draining.mouths import OUT, Doors, Mouth, mouths_of
from ventplanner.draining.waiting import DRIP_S, film_volume, thicker, wait
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Plan, Point
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


@dataclass(frozen=True, eq=False)
class _Way:
    ups: tuple[FloatArray, ...]
    at: Rest

    @property
    def left(self) -> float:
        return self.at.settled.volume


def drain(findings: Findings, plan: Plan, profile: Profile, progress: Progress = silent) -> Drained:
    """Find the pour plan of a part with its vents and passages, and follow it. Raises Cancelled."""
    progress("Dividing the hollows", 0.0)
    rough, fine = space_of(findings, tools_of(findings, plan))
    mouths = mouths_of(findings, plan)
    liquid = Liquid.of(profile)
    plate = findings.options.layer_mm if findings.pose.on == "plate" else None
    coarse, bath = (Bath(c, Doors.of(c, mouths), liquid, plate) for c in (rough, fine))
    progress("Looking for ways to drain it", 0.2)
    found = _search(coarse, _poses(findings, mouths), progress)
    progress("Following the plan", 0.8)
    done = min((follow(findings, bath, way.ups, profile) for way in found), key=_rank)
    progress("Following the plan", 1.0)
    return done


def follow(findings: Findings, bath: Bath, ups: tuple[FloatArray, ...], profile: Profile) -> Drained:
    """A plan of given poses, from full hollows: hanging, taken off, then these, each the unit vector that is up, (3,)
    in build axes."""
    liquid, steps = bath.full, []
    hanging = np.array([0.0, 0.0, -1.0])
    moves: list[tuple[How, FloatArray]] = [("hanging", hanging), ("taken off", hanging), *(("turn", u) for u in ups)]
    last, most = hanging, liquid
    for n, (how, up) in enumerate(moves):
        at = bath.turned(liquid, last, up) if how == "turn" else bath.rest(liquid, up, plate=how == "hanging")
        drip = DRIP_S if n == len(moves) - 1 and _has_run(bath, at) else 0.0
        steps.append(_step(findings, bath, how, liquid, at, profile, drip))
        liquid, last, most = at.liquid, up, bath.held_back(at, most)
    film = film_volume(findings, bath, at, steps[-1].wait_s)
    at_most = max(float(most.sum()), steps[-1].left) + film
    left = _left(findings, steps[-1], bath)
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
    sealed = _never(bath)
    for turn in range(MOST_TURNS):
        if best[-1].left - sealed <= worth:
            break
        tried = []
        for n, way in enumerate(beam):
            progress("Looking for ways to drain it", 0.2 + 0.6 * (turn + n / len(beam)) / MOST_TURNS)
            for up in poses:
                if float(up @ way.at.up) < np.cos(np.radians(SAME_DEG)):
                    at = bath.turned(way.at.liquid, way.at.up, up, SEARCH_STEP_DEG)
                    tried.append(_Way((*way.ups, up), at))
        tried.sort(key=lambda w: (round(w.left, 1), _angle(w)))
        beam = _apart(tried)
        if beam[0].left > best[-1].left - worth and turn > 0:
            break
        best.append(beam[0])
    return best[:-3:-1]


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
    """mm3 in cavities without any mouth to a way out: no turn brings that out."""
    joined = {OUT}
    while True:
        more = {m.cavity for m in bath.doors.mouths if m.beyond in joined} - joined
        if not more:
            break
        joined |= more
    tied = np.unique(bath.cells.cavity[bath.cells.ends][(bath.cells.ends == OUTSIDE).any(axis=1)])
    shut = ~np.isin(bath.cells.cavity, [*joined, *tied.tolist()]) & (bath.cells.cavity >= 0)
    return float(bath.cells.volume[shut].sum())


def _step(
    findings: Findings, bath: Bath, how: How, before: FloatArray, at: Rest, profile: Profile, drip: float
) -> Step:
    names = [c.id for c in findings.cavities]
    nominal = wait(bath, before, at)
    most = wait(thicker(bath, profile.viscosity_span_pas[1]), before, at)
    left = at.settled.volume
    gravity = findings.scene.frame.direction_to_file(-at.up)
    return Step(
        how, _point(gravity), nominal + drip, most + drip, left, float(before.sum()) - left, _ran(bath, names, before,
        at), _pools(findings, bath.cells, at), tuple((names[k], air) for k, air in sorted(at.air.items())), at,
    )  # fmt: skip


def _ran(bath: Bath, names: list[str], before: FloatArray, at: Rest) -> tuple[Ran, ...]:
    """What left each cavity, through its lowest mouth."""
    found = []
    for k, name in enumerate(names):
        own = bath.cells.cavity == k
        gone = float(before[own].sum() - at.liquid[own].sum())
        mouths = [(n, m) for n, m in enumerate(bath.doors.mouths) if m.cavity == k]
        if gone > 0.05:
            lowest = min(mouths, key=lambda pair: bath.lip(pair[0], at.up))[1] if mouths else None
            to = "" if lowest is None or lowest.beyond == OUT else names[lowest.beyond]
            found.append(Ran(name, "" if lowest is None else lowest.name, to, gone))
    return tuple(found)


def _pools(findings: Findings, cells: Cells, at: Rest) -> tuple[Pool, ...]:
    """Every pool that holds something, the largest first; one that lies in several cavities is one for each."""
    found, number = [], at.settled.pool
    names = [*(c.id for c in findings.cavities), ""]
    low = cells.far.astype(np.float64) @ at.up
    wet = np.flatnonzero(at.liquid > 0.0)
    key = number[wet].astype(np.int64) * len(names) + np.where(cells.cavity[wet] < 0, len(names) - 1, cells.cavity[wet])
    for one in np.unique(key):
        own = wet[key == one]
        volume = float(at.liquid[own].sum())
        corner = np.unravel_index(int(np.argmin(low[own])), low[own].shape)
        level = float(at.settled.level[own[0]])
        if not np.isfinite(level):
            level = float(low[own].max())
        point = findings.scene.frame.to_file(cells.far[own[corner[0]], corner[1]].astype(np.float64))
        lift = float(findings.scene.frame.to_file(np.zeros(3)) @ findings.scene.frame.direction_to_file(at.up))
        deep = float(low[own].min())
        found.append(Pool(names[one % len(names)], volume, level + lift, level - deep, _point(point)))
    return tuple(sorted(found, key=lambda p: -p.volume))


def _left(findings: Findings, step: Step, bath: Bath) -> tuple[Left, ...]:
    """What stays in each cavity and why."""
    names = [c.id for c in findings.cavities]
    air = dict(step.air)
    sums: dict[str, float] = {}
    for pool in step.pools:
        sums[pool.cavity] = sums.get(pool.cavity, 0.0) + pool.volume
    found = []
    for name, volume in sums.items():
        at = next(p.at_mm for p in step.pools if p.cavity == name)
        why: Why = "pool" if name else "outer dip"
        if name and not any(m.cavity == names.index(name) for m in bath.doors.mouths):
            why = "sealed" if findings.cavity(name).kind == "sealed" else "pool"
        elif air.get(name) == "held":
            why = "no air"
        found.append(Left(name, volume, why, at))
    return tuple(sorted(found, key=lambda one: -one.volume))


def _point(vector: FloatArray) -> Point:
    x, y, z = (float(v) + 0.0 for v in vector)
    return (x, y, z)
