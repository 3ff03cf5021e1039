"""`ventplanner drain`: what it prints, in words and as JSON."""

from __future__ import annotations

import re
from pathlib import Path

import bodies
import numpy as np
import pytest
from command_line import Runner
from json_contract import drain_problems


@pytest.fixture(scope="module")
def buoy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A hollow box with two holes of 4 mm in its right wall, and a sealed hollow of 648 mm3."""
    path = tmp_path_factory.mktemp("drain") / "buoy.stl"
    holes = (bodies.rod((9.0, 0.0, z), (13.0, 0.0, z), 2.0) for z in (-7.0, 7.0))
    body = bodies.cut(
        bodies.block((-12, -12, -12), (12, 12, 34)), bodies.box(20.0), *holes, bodies.box((6, 6, 18), (0, 0, 22))
    )
    body.export(path)
    return path


def test_it_says_what_to_do_what_runs_and_what_stays(run: Runner, buoy: Path) -> None:
    done = run("drain", buoy, "--to-plate", "0,0,-1", "--pitch", "0.5")
    assert (done.code, done.err) == (3, "")  # the small hollow keeps its resin
    for word in (
        "1. It hangs on the plate, the top (+Z) down.",
        "2. Take it off the plate",
        "3. Turn it slowly by ",
        "It has no way out.",
        "would leave 0.00 mL in the part instead of 0.65 mL",
        "do not cure the part before it is opened",
        "gloves",
        "flammable",
        "safety data sheets",
    ):
        assert word in done.out


def test_the_json_is_as_documented_and_its_sums_are_right(run: Runner, buoy: Path) -> None:
    report = run("drain", buoy, "--json", "--pitch", "0.5").json
    assert drain_problems(report) == []
    assert report["steps"][0]["gravity"] == [0.0, 0.0, 1.0]
    before = report["full_mm3"]
    for step in report["steps"]:
        assert step["left_mm3"] + step["out_mm3"] == pytest.approx(before, abs=1e-4)
        assert step["left_mm3"] == pytest.approx(sum(pool["volume_mm3"] for pool in step["pools"]), abs=1e-3)
        assert np.linalg.norm(step["gravity"]) == pytest.approx(1.0, abs=1e-5)
        before = step["left_mm3"]
    assert report["left_mm3"] == before == pytest.approx(648.0, rel=0.02)
    assert report["left_where"][0]["kind"] == "sealed"
    (change,) = report["changes"]
    assert (change["replaces"], len(change["vents"])) == (None, 2)
    assert change["left_mm3"] < 5.0
    shares = {one["reached_share"] > 0.3: one["rinses"] for one in report["inside"]}
    assert shares[False] is None  # the sealed one
    assert shares[True] >= 1


def test_a_pose_of_ones_own_is_told_with_its_pools_and_where_they_run_over(run: Runner, buoy: Path) -> None:
    """Standing, liquid in the box rises to the lower edge of the lower hole (z = -9); with that wall down it is empty;
    then it is put on its head, where nothing is left to run."""
    held = ("--hold", "0,0,-3", "--hold", "1,0,0", "--hold", "0,0,1")
    report = run("drain", buoy, "--json", "--pitch", "0.5", *held).json
    assert drain_problems(report) == []
    standing, aside, last = report["steps"]
    assert [step["how"] for step in report["steps"]] == ["held", "turn", "turn"]
    assert standing["gravity"] == [0.0, 0.0, -1.0]
    sealed, box = standing["pools"]
    assert sealed["volume_mm3"] == pytest.approx(648.0, rel=0.02)
    assert (sealed["spill_mm"], sealed["room_mm3"]) == (None, None)
    assert box["volume_mm3"] == pytest.approx(20.0 * 20.0 * 1.0, rel=0.05)
    assert box["level_mm"] == box["spill_mm"] == pytest.approx(-9.0, abs=0.06)
    assert (box["room_mm3"], box["depth_mm"]) == (0.0, pytest.approx(1.0, abs=0.06))
    assert [pool["cavity"] for pool in aside["pools"] if pool["volume_mm3"] > 1.0] == [sealed["cavity"]]
    assert last["out_mm3"] == pytest.approx(0.0, abs=1e-6)
    words = run("drain", buoy, "--pitch", "0.5", "--hold", "0,0,-1").out
    assert "1. Hold it with the bottom (−Z) down." in words
    assert re.search(r"surface at -(8\.9|9\.0)\d mm; full up to where it runs over", words)
