"""Places are named by cavity and cup, and a plan is looked up again when the part hangs otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hollow_parts import ON_SIDE, found, proposed, two_bells

from ventplanner.app import edits
from ventplanner.app.lookup import look_up, named, names_at, point_in
from ventplanner.app.outlook import Outlook
from ventplanner.app.state import AppState
from ventplanner.geometry.pose import Pose
from ventplanner.plan.fitting import tool_of_vent


def in_file_axes(pose: Pose | None, *points: tuple[float, float, float]) -> list[str]:
    findings = found(pose)
    return [cavity for cavity, _ in names_at(findings, findings.scene.frame.to_build(np.array(points, dtype=float)))]


def test_each_place_has_the_name_of_its_cavity() -> None:
    assert in_file_axes(None, (-9, 0, -2), (9, 0, 1), (0, 0, 0), (0, 0, 30)) == ["A", "B", "", ""]


def test_names_follow_the_pose() -> None:
    # Hanging by the side at +x, the cavity at x > 0 begins first.
    assert in_file_axes(ON_SIDE, (-9, 0, -2), (9, 0, 1)) == ["B", "A"]


@pytest.mark.parametrize("pose", [None, ON_SIDE, Pose((0.0, 0.6, -0.8))])
def test_the_point_in_a_cavity_is_in_it(pose: Pose | None) -> None:
    findings = found(pose)
    for cavity in findings.cavities:
        assert names_at(findings, point_in(findings, cavity)[None])[0][0] == cavity.id


def test_a_proposal_leads_where_it_says() -> None:
    for vent in proposed().vents:
        assert named(found(), vent).cavity == vent.cavity


def test_a_vent_into_solid_material_leads_nowhere() -> None:
    aside = replace(proposed().vents[0], exit_mm=(0.0, 0.0, 0.0), axis=(0.0, 0.0, 1.0))
    assert (named(found(), aside).cavity, named(found(), aside).cup) == ("", "")


def test_a_plan_is_named_anew_for_another_pose() -> None:
    state = edits.accept(AppState(two_bells()), *proposed().vents).state
    turned = edits.set_pose(state, ON_SIDE).state
    assert not turned.plan_is_current
    after = look_up(turned, found(ON_SIDE))
    assert after.plan_is_current
    swapped = {"A": "B", "B": "A"}
    assert [v.cavity for v in after.plan.vents] == [swapped[v.cavity] for v in state.plan.vents]
    assert all(v.cup[0] == v.cavity for v in after.plan.vents)
    # What a vent opened in the pose it was made for is no reason in this one.
    assert all(v.reason.startswith("Placed for another pose") for v in after.plan.vents)


def test_a_cavity_left_alone_is_found_by_its_place() -> None:
    state = edits.leave_alone(AppState(two_bells()), "A", "the lamp needs it", (-9.0, 0.0, -2.0)).state
    after = look_up(edits.set_pose(state, ON_SIDE).state, found(ON_SIDE))
    assert after.plan.left_alone == (("B", "the lamp needs it"),)
    assert dict(after.left_at) == {"B": (-9.0, 0.0, -2.0)}


def test_a_note_outlives_a_pose_in_which_its_cavity_is_not_there() -> None:
    state = edits.leave_alone(AppState(two_bells()), "A", "as it is", (0.0, 0.0, 0.0)).state  # in the wall
    lost = look_up(edits.set_pose(state, ON_SIDE).state, found(ON_SIDE))
    assert lost.plan.left_alone == (("A*", "as it is"),)
    back = replace(lost, left_at=(("A*", (9.0, 0.0, 1.0)),))
    assert look_up(back, found(ON_SIDE)).plan.left_alone == (("A", "as it is"),)


def test_two_notes_about_what_is_one_cavity_now_are_both_kept() -> None:
    state = edits.leave_alone(AppState(two_bells()), "A", "first", (-9.0, 0.0, -2.0)).state
    state = edits.leave_alone(state, "B", "second", (-8.0, 0.0, -2.0)).state
    assert look_up(edits.set_pose(state, ON_SIDE).state, found(ON_SIDE)).plan.left_alone == (("B", "first; second"),)


def test_the_outlook_tells_cavities_apart() -> None:
    findings = found()
    vents = [v for v in proposed().vents if v.cavity == "A"]
    outlook = Outlook(findings, findings.scene.cups(tuple(tool_of_vent(findings, v) for v in vents)))
    assert (outlook.state("A"), outlook.state("B")) == ("breathing", "sealed")
    assert outlook.area("A").max() == 0.0
    assert outlook.area("B").max() == pytest.approx(144.0, rel=0.05)
    assert len(outlook.area("B")) == len(outlook.heights)


def test_areas_of_all_cavities_add_up_to_the_whole() -> None:
    findings = found()
    outlook = Outlook(findings, findings.cups)
    total = outlook.area("A") + outlook.area("B")
    assert total == pytest.approx(findings.cups.sealed_area.area, abs=1e-6)
