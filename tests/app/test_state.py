"""Keys name exactly what a result depends on; a state survives its plan file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from plan_values import vent, wedge

from ventplanner.app import edits
from ventplanner.app.state import (
    AppState,
    analysis_key,
    drilled_key,
    from_saved,
    memory_of,
    open_proposals,
    plan_key,
    proposals_key,
    to_saved,
    wish_key,
)
from ventplanner.geometry.pose import Pose
from ventplanner.io.project import load_plan, save_plan
from ventplanner.options import AnalysisOptions, VentRules
from ventplanner.plan.model import NoVent
from ventplanner.profile import PRESETS

START = edits.accept(AppState(wedge()), vent("1", 0.0), vent("2", 20.0)).state
KEYS = {
    "analysis": analysis_key,
    "proposals": proposals_key,
    "plan": plan_key,
    "drilled": drilled_key,
    "wish": wish_key,
}

CHANGES: list[tuple[str, Callable[[AppState], AppState], set[str]]] = [
    ("pose", lambda s: edits.set_pose(s, Pose((1.0, 0.0, 0.0))).state, {"analysis", "proposals", "plan", "wish"}),
    ("gap", lambda s: edits.set_pose(s, Pose(gap_mm=6.0)).state, {"analysis", "proposals", "plan", "wish"}),
    (
        "options",
        lambda s: edits.set_options(s, AnalysisOptions(late_mm=1.0)).state,
        {"analysis", "proposals", "plan", "wish"},
    ),
    ("rules", lambda s: edits.set_rules(s, VentRules(1.5)).state, {"proposals", "wish"}),
    ("part", lambda s: edits.set_part(s, wedge(scale=2.0)).state, set(KEYS)),
    ("drill", lambda s: edits.set_diameter(s, "1", 2.0).state, {"plan", "drilled", "wish"}),
    ("note", lambda s: edits.leave_alone(s, "B", "why", (0.0, 0.0, 0.0)).state, {"wish"}),
    ("reason", lambda s: edits.move(s, vent("1", 0.0, reason="nearer")).state, {"wish"}),
    ("profile", lambda s: edits.set_profile(s, PRESETS[1]).state, {"wish"}),
    ("set aside", lambda s: edits.set_aside(s, vent("9", 9.0)).state, {"wish"}),
    ("looked up", lambda s: replace(s, plan_made_for="another"), set()),
    ("order", lambda s: replace(s, plan=replace(s.plan, vents=s.plan.vents[::-1])), {"wish"}),
    ("the same part read again", lambda s: edits.set_part(s, wedge("copy.stl")).state, set()),
]


@pytest.mark.parametrize(("what", "change", "changed"), CHANGES, ids=[c[0] for c in CHANGES])
def test_a_change_changes_the_keys_of_what_depends_on_it_and_no_other(
    what: str, change: Callable[[AppState], AppState], changed: set[str]
) -> None:
    after = change(START)
    assert {name for name, key in KEYS.items() if key(after) != key(START)} == changed


def test_keys_of_different_kinds_never_meet() -> None:
    assert len({key(START) for key in KEYS.values()}) == len(KEYS)


@pytest.mark.parametrize("direction", [(1.0, 2.0, 3.0), (3.0, 0.0, 4.0), (-5.0, 1.0, 0.3), (0.1, 0.2, 0.7)])
def test_making_the_direction_a_unit_vector_again_is_no_other_pose(direction: tuple[float, float, float]) -> None:
    pose = Pose(direction)
    again = replace(pose, gap_mm=6.0)
    assert edits.set_pose(replace(START, pose=pose), again).name == "Set gap between plate and part to 6.0 mm"
    back = replace(again, gap_mm=pose.gap_mm)
    assert analysis_key(replace(START, pose=back)) == analysis_key(replace(START, pose=pose))


def test_a_proposal_is_open_until_it_is_accepted_or_set_aside() -> None:
    proposals = (vent("1", 0.0), vent("2", 20.0), vent("3", 40.0), vent("4", 60.0))
    state = edits.set_aside(START, proposals[2]).state
    assert open_proposals(state, proposals) == (proposals[3],)


def test_a_decision_holds_for_the_proposal_that_another_pitch_shifts_a_little() -> None:
    state = edits.set_aside(START, vent("3", 40.0)).state
    assert open_proposals(state, (vent("5", 40.4), vent("6", 42.0))) == (vent("6", 42.0),)


def test_a_proposal_stays_decided_after_its_vent_was_moved_and_is_open_again_when_it_is_removed() -> None:
    moved = edits.move(START, vent("1", 90.0)).state
    assert open_proposals(moved, (vent("1", 0.0),)) == ()
    assert open_proposals(edits.remove(moved, "1").state, (vent("1", 0.0),)) == (vent("1", 0.0),)


def test_where_a_vent_of_the_plan_is_nothing_is_proposed_again() -> None:
    """Plans of the command line do not say which proposals their vents began as."""
    state = replace(START, proposals=())
    assert open_proposals(state, (vent("5", 0.0), vent("6", 20.2), vent("7", 40.0))) == (vent("7", 40.0),)


def test_states_weigh_the_part_they_share_under_one_name() -> None:
    other = edits.set_diameter(START, "1", 2.0).state
    shared = memory_of(START).keys() & memory_of(other).keys()
    assert memory_of(START)[id(START.solid)] == 4 * 24 + 4 * 12
    assert id(START.solid) in shared


def test_a_state_comes_back_from_its_plan_file_and_has_to_be_looked_up_again(tmp_path: Path) -> None:
    state = edits.leave_alone(START, "B", "only the lamp", (1.0, 2.0, 3.0)).state
    state = edits.set_aside(edits.set_pose(state, Pose((1.0, 2.0, 3.0))).state, vent("9", 9.0)).state
    save_plan(tmp_path / "whelk.ventplan", to_saved(state, (NoVent("A", "A2", "too narrow"),)))
    saved = load_plan(tmp_path / "whelk.ventplan")
    back = from_saved(saved)
    assert saved.plan.missing == (NoVent("A", "A2", "too narrow"),)
    assert replace(back, solid=state.solid, pose=state.pose) == replace(state, plan_made_for="")
    assert np.allclose(back.pose.to_plate, state.pose.to_plate, rtol=0, atol=1e-15)
    assert (back.path, back.unit, back.solid.digest) == ("whelk.stl", None, state.solid.digest)
    assert wish_key(back) == wish_key(state)
    assert not back.plan_is_current
