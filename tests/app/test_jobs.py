"""Wishes, and what is tried before the long work."""

from __future__ import annotations

from pathlib import Path

import pytest

from ventplanner.app import jobs


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
