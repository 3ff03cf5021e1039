"""`--supports`: what it changes, what is written, and what a plan remembers."""

from __future__ import annotations

from pathlib import Path

import pytest
from bodies import block, cut, rod, solid
from command_line import Runner

from ventplanner.io.meshes import read, write

pytestmark = pytest.mark.usefixtures("no_other_places")


@pytest.fixture
def supports(box: Path, tmp_path: Path) -> Path:
    """A raft and struts under the box, 4 mm apart."""
    low, high = read(box).bounds
    z = float(low[2])
    xs, ys = ([float(low[k]) + 1.0 + 3.0 * i for i in range(int((high[k] - low[k]) // 3))] for k in range(2))
    struts = [rod((x, y, z - 5.0), (x, y, z), 0.4) for x in xs for y in ys]
    raft = block((low[0], low[1], z - 5.2), (high[0], high[1], z - 4.8))
    path = tmp_path / "supports.stl"
    write(solid(raft, *struts), path)
    return path


def floor_vents(report: dict, box: Path) -> int:
    low = float(read(box).bounds[0][2])
    return sum(abs(v["entry_mm"][2] - low) < 1e-3 for v in report["vents"])


def test_vents_keep_off_the_supports_and_these_are_not_written(
    run: Runner, box: Path, supports: Path, tmp_path: Path
) -> None:
    free = run("vent", box, "--out", tmp_path / "a.stl", "--json", "--diameter", "2.5")
    minded = run("vent", box, "--out", tmp_path / "b.stl", "--json", "--diameter", "2.5", "--supports", supports)
    assert (free.code, minded.code) == (0, 0)
    assert floor_vents(free.json, box) > 0 == floor_vents(minded.json, box)
    assert any("supports.stl" in text for text in minded.json["assumptions"])
    assert read(tmp_path / "b.stl").bounds == pytest.approx(read(box).bounds)


def test_a_plan_remembers_its_supports_and_says_when_they_are_gone(
    run: Runner, box: Path, supports: Path, tmp_path: Path
) -> None:
    plan = tmp_path / "work.ventplan"
    assert run("vent", box, "--out", tmp_path / "a.stl", "--supports", supports, "--save", plan).code == 0
    again = run("inspect", plan, "--json")
    assert any("Supports from supports.stl" in text for text in again.json["assumptions"])
    supports.unlink()
    gone = run("inspect", plan, "--json")
    assert any("The supports of this plan cannot be read" in text for text in gone.json["assumptions"])
    assert gone.code == again.code
    kept = run("vent", plan, "--out", tmp_path / "c.stl", "--save", tmp_path / "again.ventplan")
    assert kept.code == 0
    assert any("cannot be read" in t for t in run("inspect", tmp_path / "again.ventplan", "--json").json["assumptions"])


def test_what_cannot_be_supports_is_refused_in_one_line(run: Runner, box: Path, tmp_path: Path) -> None:
    itself = run("inspect", box, "--supports", box)
    assert itself.code == 2
    assert "is the part itself" in itself.err
    missing = run("inspect", box, "--supports", tmp_path / "none.stl")
    assert missing.code == 2
    assert "none.stl" in missing.err


def test_orient_counts_them_in_the_present_orientation_alone_and_says_so(
    run: Runner, box: Path, tmp_path: Path
) -> None:
    """Here they stand all round: no vent has a place."""
    low, high = read(box).bounds
    path = tmp_path / "all round.stl"
    write(solid(cut(block(low - 2.0, high + 2.0), block(low - 0.2, high + 0.2))), path)
    fast = ("--pitch", "0.6", "--candidates", "2", "--resting", "supports")
    report = run("orient", box, "--json", *fast, "--supports", path).json
    assert report["present"]["unserved"] > 0
    turned = [one for one in report["candidates"] if one["to_plate"] != report["present"]["to_plate"]]
    assert {one["unserved"] for one in turned} == {0}
    assert any(
        t.startswith("Supports in all round.stl are made for the present orientation") for t in report["assumptions"]
    )
