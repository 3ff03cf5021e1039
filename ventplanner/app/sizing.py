"""Widths by need, as the window asks for them: of the proposals, and of the accepted vents if the user wishes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.app.breathing import Breathing, flow_key
from ventplanner.app.dragging import resized
from ventplanner.app.state import AppState, fields_of, key_of, marks_key
from ventplanner.flow.ground import Ground
from ventplanner.options import VentRules
from ventplanner.parameters import DIAMETER_MM
from ventplanner.plan.model import Vent
from ventplanner.plan.sizing import Sized, refitted, sized
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent


@dataclass(frozen=True, eq=False)
class SizedAll:
    """proposals: as they are offered, and what is asked of them and of the accepted ones. accepted: the accepted vents,
    each as wide as is asked of it where that fits: around its own axis, or with the same lowest point."""

    proposals: Sized
    accepted: tuple[Vent, ...]


def sizing_key(state: AppState, offered: Sequence[Vent], profile: Profile) -> str:
    """Key of the widths: the flow, the rules, the accepted vents and the open proposals by name, names in use, and
    the surface to be kept clear."""
    vents = [[v.id, v.kind, *v.cut] for v in (*state.plan.vents, *offered)]
    rest = [v.id for v in state.set_aside], marks_key(state)
    return key_of("sizing", flow_key(state, profile), fields_of(state.rules), vents, *rest)


def size_all(found: Breathing, state: AppState, offered: Sequence[Vent], progress: Progress = silent) -> SizedAll:
    """Widths of the open proposals beside the accepted vents, and of these among themselves. found: the flow of this
    state."""
    basis = replace(found.ground, findings=found.ground.findings.keeping_clear(state.keep_clear))
    accepted = state.plan.vents
    taken = frozenset(v.id for v in state.set_aside)
    profile = found.after.profile
    inside = state.plan.passages
    proposals = sized(basis, profile, offered, state.rules, accepted, taken, progress, inside)
    return SizedAll(proposals, _resized(found, basis, accepted, state.rules))


def _resized(found: Breathing, basis: Ground, accepted: tuple[Vent, ...], rules: VentRules) -> tuple[Vent, ...]:
    done = list(accepted)
    for k, vent in enumerate(accepted):
        size = found.sizes.get(vent.id)
        wide = vent.diameter_mm if size is None else size.diameter
        if not np.isfinite(wide) or abs(wide - vent.diameter_mm) < 1e-9 or vent.kind == "widen":
            continue
        others = (*done[:k], *done[k + 1 :])
        fitted = resized(basis.findings, vent, float(DIAMETER_MM.check(wide)), others)
        plain = vent.outline.is_round and vent.countersink is None
        if isinstance(fitted, str) and not plain:
            continue
        if isinstance(fitted, str):  # a little higher, so that it does not cut into the floor
            fitted = refitted(basis, vent, wide, others, rules) or vent
        done[k] = replace(fitted, id=vent.id, cavity=vent.cavity, cup=vent.cup)
    return tuple(done)
