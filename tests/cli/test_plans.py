"""Saved work: `--save`, `--plan`, and a plan file in the place of a model file."""

from __future__ import annotations

import zipfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import bodies
import pytest
import trimesh
from command_line import Runner

from ventplanner.app import jobs
from ventplanner.errors import FileWriteError
from ventplanner.io.profile_json import write_profile
from ventplanner.io.project import load_plan
from ventplanner.profile import Profile

pytestmark = pytest.mark.usefixtures("no_other_places")


@dataclass(frozen=True)
class Saved:
    part: Path
    plan: Path
    out: Path
    report: dict[str, Any]


@pytest.fixture(scope="module")
def saved(run: Runner, tmp_path_factory: pytest.TempPathFactory) -> Saved:
    """Hangs by its side, in inches, with two vents of 2 mm."""
    folder = tmp_path_factory.mktemp("saved")
    part, plan, out = (folder / name for name in ("part.stl", "work.ventplan", "out.stl"))
    trimesh.util.concatenate([bodies.box(1), bodies.inward(bodies.box(0.8))]).export(part)
    words = ("--unit", "inch", "--to-plate", "0,1,0", "--gap", 8, "--diameter", 2, "--pitch", 0.25)
    done = run("vent", part, "--out", out, "--save", plan, *words, "--json")
    assert done.code == 0
    return Saved(part, plan, out, done.json)


def without_name(report: dict[str, Any]) -> dict[str, Any]:
    """A plan keeps the name of its part's file, not where it was."""
    return {key: value for key, value in report.items() if key != "file"}


def test_a_plan_drills_the_same_file_again(run: Runner, saved: Saved, tmp_path: Path) -> None:
    for name, file in (("part", saved.part), ("plan", saved.plan)):
        again = run("vent", file, "--out", tmp_path / f"{name}.stl", "--plan", saved.plan, "--json")
        assert again.code == 0
        assert without_name(again.json) == without_name(saved.report)
        assert (tmp_path / f"{name}.stl").read_bytes() == saved.out.read_bytes()


def test_a_plan_file_alone_is_the_part_and_its_plan(run: Runner, saved: Saved, tmp_path: Path) -> None:
    done = run("vent", saved.plan, "--out", tmp_path / "out.stl", "--json")
    assert done.json["file"] == "part.stl"
    assert without_name(done.json) == without_name(saved.report)
    assert (tmp_path / "out.stl").read_bytes() == saved.out.read_bytes()


def test_a_plan_saved_again_is_the_same_plan(run: Runner, saved: Saved, tmp_path: Path) -> None:
    again = tmp_path / "again.ventplan"
    run("vent", saved.plan, "--out", tmp_path / "out.stl", "--save", again)
    assert again.read_bytes() == saved.plan.read_bytes()


def test_a_plan_keeps_its_profile_and_options_go_before_it(run: Runner, saved: Saved, tmp_path: Path) -> None:
    grey, mine, again = (tmp_path / name for name in ("grey.json", "mine.ventplan", "again.ventplan"))
    write_profile(grey, Profile("Harbour grey", viscosity_mpas=420.0, lift_speed_mm_min=30.0))
    words = ("--profile", grey, "--lift-speed", 25, "--save", mine)
    first = run("vent", saved.plan, "--out", tmp_path / "1.stl", "--json", *words).json["flow"]
    assert (first["profile"], first["viscosity_mpas"], first["lift_speed_mm_min"]) == ("Harbour grey", 420.0, 25.0)
    assert load_plan(mine).profile == Profile("Harbour grey", viscosity_mpas=420.0, lift_speed_mm_min=25.0)
    assert load_plan(mine).plan == load_plan(saved.plan).plan
    for file in (mine, saved.part):
        flow = run("vent", file, "--plan", mine, "--out", tmp_path / f"{file.stem}.stl", "--json").json["flow"]
        assert flow == first
    looked = run("inspect", mine, "--json", "--viscosity", 99).json["flow"]
    assert (looked["profile"], looked["viscosity_mpas"], looked["lift_speed_mm_min"]) == ("Harbour grey", 99.0, 25.0)
    run("vent", mine, "--out", tmp_path / "3.stl", "--lower-speed", 77, "--save", again)
    assert load_plan(again).profile == replace(load_plan(mine).profile or Profile(), lower_speed_mm_min=77.0)


def test_a_damaged_profile_in_a_plan_is_told_with_its_place(run: Runner, saved: Saved, tmp_path: Path) -> None:
    bad = tmp_path / "bad.ventplan"
    with zipfile.ZipFile(saved.plan) as old, zipfile.ZipFile(bad, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b'"viscosity_mpas": 300.0', b'"viscosity_mpas": -3000'))
    done = run("vent", bad, "--out", tmp_path / "out.stl")
    assert done.code == 2
    assert "bad.ventplan: plan.json: $.profile: The viscosity cannot be -3000 mPa·s." in done.err
    assert not (tmp_path / "out.stl").exists()


def test_a_plan_file_is_inspected_in_its_pose_unless_another_is_asked_for(run: Runner, saved: Saved) -> None:
    report = run("inspect", saved.plan, "--json").json
    assert report["pose"] == saved.report["pose"] == {"to_plate": [0.0, 1.0, 0.0], "on": "supports", "gap_mm": 8.0}
    assert report["pitch_mm"] == 0.25
    other = run("inspect", saved.plan, "--json", "--to-plate", "1,0,0").json
    assert other["pose"] == {"to_plate": [1.0, 0.0, 0.0], "on": "supports", "gap_mm": 8.0}


@pytest.mark.parametrize(
    "words",
    [("--to-plate", "0,0,1"), ("--diameter", "3"), ("--pitch", "0.5"), ("--on", "plate"), ("--nested", "solid")],
)
def test_what_the_plan_has_settled_cannot_be_asked_for(
    run: Runner, saved: Saved, tmp_path: Path, words: tuple[str, str]
) -> None:
    done = run("vent", saved.part, "--out", tmp_path / "out.stl", "--plan", saved.plan, *words)
    assert (done.code, done.out) == (2, "")
    assert done.err == f"{words[0]} is already settled by the saved plan. Leave one of them out.\n"
    assert run("inspect", saved.plan, "--unit", "mm").code == 2


def test_a_plan_of_another_part_is_refused(run: Runner, saved: Saved, box: Path, tmp_path: Path) -> None:
    done = run("vent", box, "--out", tmp_path / "out.stl", "--plan", saved.plan)
    assert (done.code, done.out) == (2, "")
    assert "another part" in done.err
    assert "(part.stl)" in done.err
    assert not (tmp_path / "out.stl").exists()


def test_a_damaged_plan_is_refused(run: Runner, saved: Saved, tmp_path: Path) -> None:
    for name, content in (("cut", saved.plan.read_bytes()[:-50]), ("other", b"a shopping list"), ("empty", b"")):
        path = tmp_path / f"{name}.ventplan"
        path.write_bytes(content)
        for words in (("inspect", path), ("vent", saved.part, "--plan", path, "--out", tmp_path / "out.stl")):
            done = run(*words)
            assert (done.code, done.out) == (2, "")
            assert len(done.err.splitlines()) == 1
            assert path.name in done.err
    done = run("inspect", tmp_path / "missing.ventplan")
    assert done.code == 2
    assert "missing.ventplan" in done.err


def test_a_plan_that_cannot_be_saved_takes_the_part_with_it(
    run: Runner, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise FileWriteError("work.ventplan: the disk is full.", "Free some space.")

    monkeypatch.setattr(jobs, "save_plan", full)
    done = run("vent", box, "--out", tmp_path / "out.stl", "--save", tmp_path / "work.ventplan")
    assert (done.code, done.out) == (1, "")
    assert [entry.name for entry in tmp_path.iterdir()] == ["box.stl"]
