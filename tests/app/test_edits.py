"""Edits are pure, bear the name that undo shows, and are taken back by the history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_values import vent, wedge

from ventplanner.app import edits
from ventplanner.app.edits import Edit
from ventplanner.app.history import History
from ventplanner.app.state import AppState, analysis_key, memory_of
from ventplanner.errors import InputError, ParameterError
from ventplanner.geometry.pose import Pose
from ventplanner.options import AnalysisOptions, VentRules
from ventplanner.profile import PRESETS, Profile

START = AppState(wedge())
WITH_VENT = edits.accept(START, vent("2")).state
PROFILED = edits.set_profile(START, Profile()).state

NAMED: list[tuple[str, Callable[[], Edit]]] = [
    ("Accept vent 2", lambda: edits.accept(START, vent("2"))),
    ("Accept vent 2", lambda: edits.accept(START, vent("V2"))),
    ("Accept 2 vents", lambda: edits.accept(START, vent("1"), vent("2", 9.0))),
    ("Set aside vent 3", lambda: edits.set_aside(START, vent("3"))),
    ("Bring back vent 3", lambda: edits.bring_back(START, vent("3"))),
    ("Move vent 2", lambda: edits.move(WITH_VENT, vent("2", 5.0))),
    ("Turn vent 2", lambda: edits.set_axis(WITH_VENT, vent("2", axis=(0.0, 0.6, 0.8)))),
    ("Set diameter of vent 2 to 2.0 mm", lambda: edits.set_diameter(WITH_VENT, "2", 2)),
    (
        "Accept vent 1: set diameter to 2.0 mm",
        lambda: edits.accept_with(START, vent("1"), lambda state, name: edits.set_diameter(state, name, 2)),
    ),
    (
        "Accept vent 1: turn",
        lambda: edits.accept_with(START, vent("1"), lambda s, _: edits.set_axis(s, vent("1", axis=(0.0, 0.6, 0.8)))),
    ),
    ("Set depth of vent 2 to 0.75 mm", lambda: edits.set_depth(WITH_VENT, "2", 0.75)),
    ("Set depth of vent 2 to 0.77 mm", lambda: edits.set_depth(WITH_VENT, "2", 0.7654)),
    ("Set depth of vent 2 to 0.38 mm", lambda: edits.set_depth(WITH_VENT, "2", 0.375)),
    ("Set diameter of vent 2 to 1.59 mm", lambda: edits.set_diameter(WITH_VENT, "2", 1.5875)),
    ("Set depth of vent 2 to 0.0 mm", lambda: edits.set_depth(WITH_VENT, "2", 0.0)),
    ("Set depth of vent 2 to 0.1 mm", lambda: edits.set_depth(WITH_VENT, "2", 0.0996)),
    ("Remove vent 2", lambda: edits.remove(WITH_VENT, "2")),
    ("Leave cavity B as it is", lambda: edits.leave_alone(START, "B", "only the lamp", (1.0, 2.0, 3.0))),
    ("Take up cavity B again", lambda: edits.take_up(START, "B")),
    ("Turn right (+X) to the plate", lambda: edits.set_pose(START, Pose((2.0, 0.0, 0.0)))),
    ("Turn front (−Y) to the plate", lambda: edits.set_pose(START, Pose((0.0, -1.0, 0.0), "plate"))),
    ("Turn top (+Z), tilted 37° towards right (+X) to the plate", lambda: edits.set_pose(START, Pose((3.0, 0.0, 4.0)))),
    ("Lay on the plate", lambda: edits.set_pose(START, Pose(on="plate"))),
    ("Set gap between plate and part to 7.5 mm", lambda: edits.set_pose(START, Pose(gap_mm=7.5))),
    ("Set gap between plate and part to 7.25 mm", lambda: edits.set_pose(START, Pose(gap_mm=7.2461))),
    ("Set pitch to 0.025 mm", lambda: edits.set_options(START, AnalysisOptions(pitch_mm=0.025))),
    ("Use profile Thick resin", lambda: edits.set_profile(START, PRESETS[2])),
    ("Use profile Thick resin", lambda: edits.set_profile(PROFILED, PRESETS[2])),
    ("Set viscosity to 220 mPa·s", lambda: edits.set_profile(PROFILED, replace(Profile(), viscosity_mpas=220.0))),
    ("Set base layers to 3", lambda: edits.set_profile(PROFILED, replace(Profile(), base_layers=3))),
    ("Change profile Ordinary resin", lambda: edits.set_profile(PROFILED, Profile(altitude_m=100.0, base_layers=3))),
    ("Set pitch to 0.2 mm", lambda: edits.set_options(START, AnalysisOptions(pitch_mm=0.2))),
    ("Set reading of nested skins to solid", lambda: edits.set_options(START, AnalysisOptions(nested="solid"))),
    (
        "Change the options of the analysis",
        lambda: edits.set_options(START, AnalysisOptions(pitch_mm=0.2, late_mm=1.0)),
    ),
    ("Set number of openings per cavity to 3", lambda: edits.set_rules(START, VentRules(vents_per_cavity=3))),
    ("Set unit to cm", lambda: edits.set_unit(START, in_centimetres())),
    ("Read the file again", lambda: edits.set_part(START, wedge(scale=1.5))),
]


def in_centimetres() -> object:
    part = wedge(scale=10.0)
    return replace(part, source=replace(part.source, unit_given="cm", unit_assumed="cm"))


@pytest.mark.parametrize(("name", "edit"), NAMED, ids=[f"{i} {name}" for i, (name, _) in enumerate(NAMED)])
def test_an_edit_says_what_it_does(name: str, edit: Callable[[], Edit]) -> None:
    assert edit().name == name


some_edits = st.sampled_from(
    [
        lambda s: edits.accept(s, vent("1", 0.0)),
        lambda s: edits.accept(s, vent("1", 20.0), vent("2", 30.0)),
        lambda s: edits.set_aside(s, vent("1", 0.0)),
        lambda s: edits.bring_back(s, vent("1", 0.0)),
        lambda s: edits.leave_alone(s, "B", "only the lamp", (1.0, 2.0, 3.0)),
        lambda s: edits.take_up(s, "B"),
        lambda s: edits.set_pose(s, Pose((1.0, 0.0, 0.0), "plate")),
        lambda s: edits.set_options(s, AnalysisOptions(pitch_mm=0.2)),
        lambda s: edits.set_profile(s, PRESETS[1]),
        lambda s: edits.set_rules(s, VentRules(diameter_mm=1.5)),
        lambda s: edits.move(s, replace(s.plan.vents[-1], entry_mm=(3.0, 1.0, 0.0))) if s.plan.vents else Edit("", s),
        lambda s: edits.set_diameter(s, s.plan.vents[0].id, 1.5) if s.plan.vents else Edit("", s),
        lambda s: edits.remove(s, s.plan.vents[0].id) if s.plan.vents else Edit("", s),
    ]
)


@given(st.lists(some_edits, max_size=12))
def test_undoing_every_edit_leads_back_to_the_start_and_redoing_to_the_end(
    steps: list[Callable[[AppState], Edit]],
) -> None:
    history = History(START, weigh=memory_of)
    for step in steps:
        name, after, _ = step(history.state)
        assert step(history.state).state == after
        history = history.did(name, after)
    back = history
    while back.undo_name:
        back = back.undone()
    assert back.state == START
    assert back.jumped(len(history.names) - 1) == history
    ids = [v.id for v in history.state.plan.vents]
    assert len(ids) == len(set(ids))
    assert {vent_id for vent_id, _ in history.state.proposals} == set(ids)


def test_accepting_two_proposals_of_one_id_keeps_both() -> None:
    after = edits.accept(WITH_VENT, vent("2", 20.0)).state
    assert [(v.id, v.entry_mm[0]) for v in after.plan.vents] == [("2", 1.0), ("3", 20.0)]
    assert dict(after.proposals)["3"] == vent("2", 20.0)


def test_accepting_a_proposal_that_was_set_aside_takes_it_off_that_list() -> None:
    aside = edits.set_aside(START, vent("2")).state
    assert edits.accept(aside, vent("2")).state.set_aside == ()


def test_setting_a_proposal_aside_twice_is_once() -> None:
    once = edits.set_aside(START, vent("2")).state
    assert edits.set_aside(once, vent("4", 1.1)).state == once


def test_steps_of_a_drag_merge_and_other_vents_do_not() -> None:
    history = History(edits.accept(WITH_VENT, vent("3", 20.0)).state)
    for x in (2.0, 3.0, 4.0):
        history = history.did(*edits.move(history.state, vent("2", x)))
    history = history.did(*edits.move(history.state, vent("3", 21.0)))
    assert history.names == ("", "Move vent 2", "Move vent 3")


def test_leaving_a_cavity_alone_keeps_the_last_note_and_its_place() -> None:
    once = edits.leave_alone(START, "B", "too smal", (1.0, 2.0, 3.0)).state
    twice = edits.leave_alone(once, "B", "too small", (1.0, 2.0, 3.0)).state
    assert twice.plan.left_alone == (("B", "too small"),)
    assert twice.left_at == (("B", (1.0, 2.0, 3.0)),)
    assert edits.take_up(twice, "B").state == replace(START, plan_made_for=analysis_key(START))


@pytest.mark.parametrize(
    "edit",
    [
        lambda s: edits.set_pose(s, Pose((0.0, 0.0, 1.0))),
        lambda s: edits.set_options(s, AnalysisOptions(layer_mm=0.05)),
        lambda s: edits.set_part(s, wedge(scale=1.5)),
    ],
)
def test_after_another_analysis_the_vents_are_kept_but_not_taken_as_looked_up(
    edit: Callable[[AppState], Edit],
) -> None:
    after = edit(WITH_VENT).state
    assert after.plan == WITH_VENT.plan
    assert WITH_VENT.plan_is_current
    assert not after.plan_is_current
    assert not edits.accept(after, vent("5", 20.0)).state.plan_is_current


def test_a_plan_looked_up_again_is_current_and_undo_finds_the_earlier_one_current_too() -> None:
    turned = History(WITH_VENT).did(*edits.set_pose(WITH_VENT, Pose((0.0, 0.0, 1.0))))
    plan = replace(turned.state.plan, vents=(vent("2", cavity="C", cup="C1"),))
    known = turned.amended(edits.looked_up(turned.state, plan, ()))
    assert known.state.plan_is_current
    assert known.state.plan.vents[0].cavity == "C"
    assert known.undone().state.plan_is_current
    assert known.undo_name == "Turn top (+Z) to the plate"


def test_leaving_a_cavity_alone_again_with_the_same_note_is_no_edit() -> None:
    once = History(START).did(*edits.leave_alone(START, "B", "the lamp", (1.0, 2.0, 3.0)))
    # In another pose another point of the same cavity is at hand.
    again = once.did(*edits.leave_alone(once.state, "B", "the lamp", (1.5, 2.0, 3.0))).sealed()
    assert again.names == once.names
    assert again.state == once.state


def test_looking_up_may_not_lose_a_vent() -> None:
    with pytest.raises(ValueError, match="keeps its vents"):
        edits.looked_up(WITH_VENT, START.plan, ())


def test_another_unit_scales_places_and_walls_but_no_diameter() -> None:
    before = edits.leave_alone(WITH_VENT, "B", "", (1.0, 2.0, 3.0)).state
    after = edits.set_unit(before, in_centimetres()).state
    expected = vent("2", entry_mm=(10.0, 0.0, 0.0), exit_mm=(10.0, 0.0, 20.0), wall_mm=20.0)
    assert after.plan.vents == (expected,)
    assert after.left_at == (("B", (10.0, 20.0, 30.0)),)
    assert not after.plan_is_current


@pytest.mark.parametrize("diameter", [0.1, 25.0, float("nan")])
def test_a_diameter_out_of_range_is_refused_with_the_range(diameter: float) -> None:
    with pytest.raises(ParameterError, match=r"Give 0\.3 to 20 mm"):
        edits.set_diameter(WITH_VENT, "2", diameter)


@pytest.mark.parametrize("depth", [-0.1, float("inf"), float("nan")])
def test_a_depth_that_is_none_is_refused(depth: float) -> None:
    with pytest.raises(ParameterError, match="Give 0 mm or more"):
        edits.set_depth(WITH_VENT, "2", depth)


@pytest.mark.parametrize(
    "edit",
    [
        lambda: edits.move(WITH_VENT, vent("7")),
        lambda: edits.remove(WITH_VENT, "7"),
        lambda: edits.set_diameter(WITH_VENT, "7", 2.0),
    ],
)
def test_an_edit_of_a_vent_that_is_not_there_names_those_that_are(edit: Callable[[], Edit]) -> None:
    with pytest.raises(InputError, match=r"no vent 7\. Choose one of: 2\."):
        edit()
