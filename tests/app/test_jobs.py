"""Wishes, and what is refused before or instead of the long work."""

from __future__ import annotations

from pathlib import Path

import bodies
import numpy as np
import pytest

from ventplanner.app import jobs
from ventplanner.app.limits import check_part, check_pitch
from ventplanner.errors import MeshError, ParameterError
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid, Source


def scaled(factor: float, unit: str | None = None) -> Solid:
    part = bodies.solid(bodies.box(1.0))
    return Solid(part.vertices * factor, part.faces, (), Source(unit_given=unit, unit_assumed=unit or "mm"))


@pytest.mark.parametrize("size", [0.5, 20.0, 10_000.0])
def test_sizes_that_can_be_meant_are_taken(size: float) -> None:
    check_part(scaled(size))


@pytest.mark.parametrize(
    ("part", "way_out"),
    [
        (scaled(0.4), "cm, inch or m; --unit"),
        (scaled(0.4, "m"), "Scale the part"),
        (scaled(1e5), "far away"),
        (scaled(1e5, "m"), "mm, cm or inch; --unit"),
    ],
)
def test_other_sizes_are_refused_with_a_unit_that_would_do(part: Solid, way_out: str) -> None:
    with pytest.raises(ParameterError, match="any print") as error:
        check_part(part)
    assert way_out in error.value.way_out


@pytest.mark.parametrize("axis", range(3))
def test_a_flat_part_is_refused_with_its_axis(axis: int) -> None:
    part = bodies.solid(bodies.box(20.0))
    with pytest.raises(MeshError, match=f"along {'xyz'[axis]}"):
        check_part(Solid(part.vertices * np.delete(np.eye(4), axis, axis=0)[:, :3].sum(axis=0), part.faces))


def test_the_pitch_that_is_offered_instead_is_accepted() -> None:
    part = scaled(200.0)
    with pytest.raises(ParameterError) as error:
        check_pitch(part, Pose(), 0.02)
    offered = float(error.value.way_out.split()[1])
    assert 0.02 < offered < 0.1
    check_pitch(part, Pose(), offered)
    check_pitch(part, Pose(), None)


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
