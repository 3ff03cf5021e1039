"""A part held by hand: what stands in it in any pose, going on from what is in it, or from full hollows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.app.draining import LEAST_MM3, down, lasts, ml, pool_text, where
from ventplanner.app.liquid import Skin, liquid_at
from ventplanner.app.pouring import Poured, Scene, Stance, streams_of
from ventplanner.draining.bath import Rest
from ventplanner.draining.model import Step
from ventplanner.draining.steps import step_of
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

MOST_TOLD = 6
"""Pools that are told one by one at most."""


@dataclass(frozen=True, eq=False)
class Held:
    """The part held so until nothing runs any more. skin: for the next pose of the same pour plan."""

    step: Step
    scene: Scene
    skin: Skin


def hold_so(
    findings: Findings,
    poured: Poured,
    stance: Stance,
    start: Rest | None,
    profile: Profile,
    skin: Skin | None = None,
    progress: Progress = silent,
) -> Held:
    """Turn it slowly from how it is held with what is in it (start), or fill its hollows first (None), until it is held
    so. stance: see `ventplanner.app.pouring.Stance`. Raises Cancelled."""
    progress("Letting it run", 0.0)
    bath, up = replace(poured.done.bath, _ready={}), np.array(stance[2])
    before = bath.full if start is None else start.liquid
    at = bath.rest(before, up) if start is None else bath.turned(before, start.up, up)
    progress("Letting it run", 0.5)
    step = step_of(findings, bath, "held", before, at, profile, 0.0)
    skin = Skin.of(findings, bath.cells) if skin is None else skin
    progress("Drawing the liquid", 0.8)
    return Held(step, Scene(stance, False, liquid_at(skin, at), streams_of(findings, bath, step)), skin)


def told_of(held: Held, plan: Plan) -> tuple[str, ...]:
    """What is seen then, in sentences: what ran out, and each pool with the height at which it runs over."""
    step = held.step
    ran = f"Ran out: {', '.join(where(one, plan) for one in step.ran)}." if step.ran else "Nothing ran out."
    shut = [cavity for cavity, air in step.air if air == "held"]
    shaken = [cavity for cavity, air in step.air if air == "shake"]
    pools = [pool_text(pool) for pool in step.pools if pool.volume >= LEAST_MM3][:MOST_TOLD]
    texts = [f"Held by hand, {down(step.gravity)}. {lasts(step).capitalize()}. {ran}", f"In it: {ml(step.left)}."]
    texts += [f"No air gets into cavity {cavity} in this pose: nothing runs out of it." for cavity in shut]
    texts += [f"Cavity {cavity} only runs out if the part is shaken." for cavity in shaken]
    return (*texts, *pools)
