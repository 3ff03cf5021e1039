"""Wishes, and what is tried before the long work."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from plan_values import wedge

from ventplanner.analysis.findings import analyse
from ventplanner.app import jobs
from ventplanner.io.profile_json import write_profile
from ventplanner.io.project import SavedPlan, save_plan
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile

OWN = Profile("Harbour grey", viscosity_mpas=420.0)
OTHER = Profile("Other", lift_speed_mm_min=20.0)


def test_values_that_are_not_given_are_the_defaults() -> None:
    assert jobs.wish("part.stl") == jobs.Wish("part.stl")
    asked = jobs.wish("part.stl", unit="cm", pose={"on": "plate"}, options={"pitch_mm": 0.5}, rules={"diameter_mm": 3})
    assert (asked.unit, asked.pose.on, asked.options.pitch_mm, asked.rules.diameter_mm) == ("cm", "plate", 0.5, 3)


def test_a_huge_direction_is_still_a_direction() -> None:
    pose = jobs.wish("part.stl", pose={"to_plate": (1e308, 0.0, -1e308)}).pose
    assert pose.to_plate == pytest.approx((0.5**0.5, 0.0, -(0.5**0.5)))


@pytest.mark.parametrize("name", ["work.ventplan", "WORK.VENTPLAN"])
def test_plan_files_are_known_by_their_suffix(name: str) -> None:
    assert jobs.is_plan(name)
    assert not jobs.is_plan(name + ".stl")


def test_a_try_of_the_folder_leaves_nothing(tmp_path: Path) -> None:
    jobs.check_targets(str(tmp_path / "out.stl"), str(tmp_path / "work.ventplan"), overwrite=False)
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def plan(tmp_path: Path) -> str:
    """A saved plan with a profile of its own, and a note."""
    path = tmp_path / "whelk.ventplan"
    left = Plan(left_alone=(("C", "a lamp"),))
    save_plan(path, SavedPlan(wedge(), left, left_at=(("C", (1.0, 2.0, 3.0)),), profile=OWN))
    return str(path)


def test_the_profile_of_a_plan_is_used_unless_another_is_given(plan: str, tmp_path: Path) -> None:
    assert jobs.wish(plan).profile == OWN
    assert jobs.wish("part.stl", plan).profile == OWN
    assert jobs.wish(plan, profile={"lift_speed_mm_min": 25.0}).profile == replace(OWN, lift_speed_mm_min=25.0)
    write_profile(tmp_path / "other.json", OTHER)
    given = {"profile_path": str(tmp_path / "other.json")}
    assert jobs.wish(plan, **given).profile == OTHER  # type: ignore[arg-type]
    both = jobs.wish(plan, profile={"viscosity_mpas": 99.0}, **given)  # type: ignore[arg-type]
    assert both.profile == replace(OTHER, viscosity_mpas=99.0)


def test_a_plan_of_an_earlier_version_is_worked_on_with_the_default_profile(tmp_path: Path) -> None:
    save_plan(tmp_path / "old.ventplan", SavedPlan(wedge()))
    assert jobs.wish(str(tmp_path / "old.ventplan")).profile == Profile()


def test_a_plan_that_is_carried_out_and_saved_again_loses_nothing(plan: str) -> None:
    wish = jobs.wish(plan, profile={"viscosity_mpas": 99.0})
    assert wish.saved is not None
    findings = analyse(wish.saved.part, wish.pose, wish.options)
    again = jobs._to_save(wish, findings, wish.saved.plan)
    assert again == replace(wish.saved, profile=replace(OWN, viscosity_mpas=99.0))
