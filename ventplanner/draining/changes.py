"""What would bring out more: a vent near the deepest point of what stays, added or in the place of another one.

Each is tried: fitted to the wall, and the whole pour plan found anew with it. One that is moved must leave all cups
breathing that do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.draining.model import Drained, Left
from ventplanner.draining.planning import WORTH, WORTH_MM3, drain
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.fitting import Fit, as_vent, fit, fit_of_vent
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.skin import skin_samples
from ventplanner.plan.spacing import clear_of
from ventplanner.plan.venting import tools_of
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

SAMPLES = 600
TRIES = 40
"""So many of the nearest places on the inner skin are tried."""

MOST_CAVITIES = 3
MOST_MOVED = 2
LONGEST_WALL_MM = 10.0
GOOD = 0.95
"""What brings out this share of what stays in a cavity is good enough: nothing else is tried."""

USUAL_MM = 2.5
"""Width of a vent where the plan has none to go by."""


@dataclass(frozen=True, eq=False)
class Change:
    """A better plan. cavity: whose resin it is about. vents: what to add, in the file's axes; replaces: id of the vent
    that the first one takes the place of, "" for none. plan: with it. left: mm3 in pools then, instead of `before`.
    is_offered: the vents are proposals that are open."""

    cavity: str
    vents: tuple[Vent, ...]
    replaces: str
    plan: Plan
    left: float
    before: float
    is_offered: bool = False


def changes(
    findings: Findings,
    plan: Plan,
    done: Drained,
    profile: Profile,
    progress: Progress = silent,
    offered: Sequence[Vent] = (),
) -> tuple[Change, ...]:
    """For each cavity of which more than a little stays: the best change found, if it brings out half of that.

    offered: proposals that are open. Those of the cavity are tried as they are, and preferred; others keep clear of
    all of them."""
    worth = max(WORTH * done.full, WORTH_MM3)
    found = []
    for left in done.left_where[:MOST_CAVITIES]:
        if left.cavity and left.volume > worth:
            tried = list(_tried(findings, plan, done, left, profile, progress, offered))
            good = [one for one in tried if one.left < done.left - 0.5 * left.volume]
            # Of equal ones what is proposed anyway, then the one with fewer holes.
            found += sorted(good, key=lambda c: (round(c.left / worth), not c.is_offered, len(c.plan.vents)))[:1]
    return tuple(found)


def _tried(
    findings: Findings,
    plan: Plan,
    done: Drained,
    left: Left,
    profile: Profile,
    progress: Progress,
    offered: Sequence[Vent],
) -> Iterator[Change]:
    asked = tuple(vent for vent in offered if vent.cavity == left.cavity)
    if asked:
        taken = replace(plan, vents=(*plan.vents, *asked))
        now = drain(findings, taken, profile, progress)
        yield Change(left.cavity, asked, "", taken, now.left, done.left, is_offered=True)
        if now.left < done.left - GOOD * left.volume:
            return
    own = [vent for vent in plan.vents if vent.cavity == left.cavity]
    wide = max((vent.diameter_mm for vent in own), default=USUAL_MM)
    deep = findings.scene.frame.to_build(np.array([left.at_mm]))[0]
    is_shut = left.why in ("sealed", "no air")
    if is_shut:  # as far apart as it is long: then air gets in, however it lay in the last pose
        low_end, high_end = _ends(findings, left.cavity, done.steps[-1].rest.up)
        deep = low_end
    others = tuple(fit_of_vent(findings, drill) for drill in (*plan.drills, *offered))
    low = _near(findings, left.cavity, deep, wide, others)
    if low is None:
        return
    names = _free(plan)
    first = _vent(findings, low, next(names), left.cavity, "drains what stays in this cavity")
    added: list[tuple[Vent, ...]] = [(first,)]
    if is_shut:
        high = _near(findings, left.cavity, high_end, wide, (*others, low))
        if high is not None:  # one narrow hole alone lets nothing out
            second = _vent(findings, high, next(names), left.cavity, "lets air in while this cavity drains")
            added = [(first, second)]
    for vents in added:
        better = replace(plan, vents=(*plan.vents, *vents))
        now = drain(findings, better, profile, progress)
        yield Change(left.cavity, vents, "", better, now.left, done.left)
    bad = _closed(findings, plan)
    for vent in own[:MOST_MOVED]:
        moved = replace(first, id=vent.id)
        other = plan.with_vent(moved)
        if _closed(findings, other) <= bad:
            yield Change(
                left.cavity, (moved,), vent.id, other, drain(findings, other, profile, progress).left, done.left
            )


def _ends(findings: Findings, cavity: str, up: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(3,) build points of a cavity's skin that are furthest apart along its longest direction, the lower one first."""
    points = findings.scene.vertices[findings.scene.solid.faces[findings.cavity(cavity).faces].ravel()]
    long = np.linalg.eigh(np.cov((points - points.mean(axis=0)).T))[1][:, 2]
    long = long if long @ up >= 0.0 else -long
    return points[int(np.argmin(points @ long))], points[int(np.argmax(points @ long))]


def _near(findings: Findings, cavity: str, at: FloatArray, wide: float, others: tuple[Fit, ...]) -> Fit | None:
    """The drill that fits nearest to a point, straight through the wall."""
    points, normals = skin_samples(findings, findings.cavity(cavity).faces, SAMPLES)
    for k in np.argsort(np.linalg.norm(points - at, axis=1))[:TRIES]:
        found = fit(findings, points[k], -normals[k], 0.5 * wide, (0.0, LONGEST_WALL_MM))
        if isinstance(found, Fit) and found.wall <= LONGEST_WALL_MM and clear_of(found, others):
            return found
    return None


def _vent(findings: Findings, found: Fit, name: str, cavity: str, why: str) -> Vent:
    return as_vent(findings, found, name, (cavity, "", "vent"), f"Placed where it {why}.")


def _free(plan: Plan) -> Iterator[str]:
    taken = {vent.id for vent in plan.vents}
    return (str(n) for n in range(1, 10_000) if str(n) not in taken)


def _closed(findings: Findings, plan: Plan) -> int:
    """Cups that do not breathe with a plan."""
    cups = findings.scene.cups(tools_of(findings, plan))
    return sum(cup.state(findings.options) != "breathing" for cup in cups.cups)
