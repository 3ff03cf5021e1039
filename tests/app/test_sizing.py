"""Accepted vents and passages by need: as wide as asked, and told with the reason where that does not fit."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hollow_parts import keel

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app.breathing import Breathing, breathing
from ventplanner.app.dragging import moved, others_of, reshaped
from ventplanner.app.edits import set_widths
from ventplanner.app.sizing import SizedAll, size_all
from ventplanner.app.state import AppState
from ventplanner.flow.ground import ground
from ventplanner.geometry.outline import Outline
from ventplanner.options import VentRules
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.placement import propose
from ventplanner.plan.refusal import place_of_refusal
from ventplanner.plan.verification import compare
from ventplanner.profile import Profile

RULES = VentRules(passages="auto", longest_wall_mm=8.0)


@cache
def found() -> tuple[Findings, Plan]:
    findings = analyse(keel())
    return findings, propose(findings, RULES)


def sized(plan: Plan, profile: Profile) -> tuple[AppState, SizedAll, Breathing]:
    findings, _ = found()
    flow = breathing(ground(findings), profile, plan)
    state = AppState(findings.solid, findings.pose, plan=replace(plan, missing=()), rules=RULES)
    return state, size_all(flow, state, ()), flow


@pytest.mark.parametrize("limit", [1.0, 8.0])
def test_a_passage_gets_the_width_that_the_limits_ask_and_its_cup_opens_no_later(limit: float) -> None:
    findings, plan = found()
    profile = Profile(vat_depth_mm=500.0, suction_limit_kpa=limit)
    state, all_of_them, flow = sized(plan, profile)
    (before,), (after,) = plan.passages, all_of_them.passages
    asked = flow.sizes[before.id].diameter
    assert np.isfinite(asked)
    assert abs(asked - before.diameter_mm) > 0.1
    assert after.diameter_mm == pytest.approx(asked)
    edit = set_widths(state, all_of_them.accepted, all_of_them.passages)
    assert edit.name == f"Size {len(plan.vents) + 1} holes by need"
    drilled = drill(findings.part, edit.state.plan).solid
    assert compare(findings.part, drilled, edit.state.plan) == ()


def test_what_does_not_fit_so_wide_stays_and_is_told() -> None:
    findings, plan = found()
    vent = plan.vents[0]
    slot = reshaped(findings, vent, Outline("slot", 4.0), 90.0, None)
    assert isinstance(slot, Vent)
    slot = replace(slot, id=vent.id, cavity=vent.cavity, cup=vent.cup)
    crowded = replace(plan, vents=(slot,))
    # So strict a limit asks for more than the length of the slot.
    _, all_of_them, flow = sized(crowded, Profile(vat_depth_mm=500.0, suction_limit_kpa=0.2))
    stay = dict(all_of_them.stay)
    assert f"vent {vent.id}" in stay
    assert all_of_them.accepted == (slot,)
    told = all_of_them.told()
    assert told.startswith("Not as wide as the limits ask: vent ")
    assert np.isinf(flow.sizes[vent.id].diameter) or f"with {flow.sizes[vent.id].diameter:g} mm " in told


def test_a_vent_keeps_off_passages_too() -> None:
    findings, plan = found()
    (passage,) = plan.passages
    frame = findings.scene.frame
    vent = plan.vents[0]
    free = replace(plan, vents=(), passages=())
    at, out = frame.to_build(np.array(vent.entry_mm)), frame.direction_to_build(-np.array(vent.axis))
    assert isinstance(moved(findings, vent, at, out, True, others_of(free)), Vent)
    # The passage laid beside where the vent goes through the wall.
    start, end = (tuple(np.array(p) + np.array([0.0, 0.0, 1.0])) for p in (vent.exit_mm, vent.entry_mm))
    beside = replace(passage, points_mm=(start, end))
    told = moved(findings, vent, at, out, True, others_of(replace(free, passages=(beside,))))
    assert str(told).startswith("it would come too near passage P1")
    assert place_of_refusal(told) is not None
