"""The contract of the command line: exit codes, messages, JSON, files."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from json_keys import KEYS, keys_of

from ventplanner import parameters as p
from ventplanner.app import exporting
from ventplanner.cli import main

Runner = Callable[..., object]


def test_a_sealed_box_is_reported_and_leaves_something_to_do(run: Runner, box: Path) -> None:
    done = run("inspect", box, "--json")
    report = done.json
    assert done.code == 3
    assert done.err == ""
    (cavity,) = report["cavities"]
    (cup,) = cavity["cups"]
    assert (cavity["state"], cup["state"], cup["to_height_mm"], cup["joins_height_mm"]) == (
        "sealed",
        "sealed",
        None,
        None,
    )
    assert cavity["volume_mm3"] == pytest.approx(16**3, rel=1e-9)
    assert cup["from_height_mm"] == pytest.approx(2.0)
    assert cup["start_mm"] == pytest.approx([0, 0, -8], abs=0.1)
    assert report["part"]["volume_mm3"] == pytest.approx(20**3 - 16**3)
    assert report["part"]["bounds_mm"] == [[-10, -10, -10], [10, 10, 10]]
    assert len(report["left"]) == 1


def test_the_json_has_exactly_the_documented_keys(run: Runner, box: Path, tmp_path: Path) -> None:
    report = run("vent", box, "--out", tmp_path / "o.stl", "--json").json
    documented = (Path(__file__).parents[2] / "resources" / "json-format.md").read_text()
    assert keys_of(report) == KEYS
    for key in KEYS:
        assert re.search(rf"[`.]{key.split('.')[-1]}(\[\])?`", documented), key


def test_the_sealed_area_integrates_to_the_cups_and_the_filtered(run: Runner, box: Path) -> None:
    report = run("inspect", box, "--json", "--to-plate", "1,2,3").json
    height, area = (np.array(report["sealed_area"][k]) for k in ("height_mm", "area_mm2"))
    assert (np.diff(height) >= 0).all()
    assert np.diff(height).max() <= report["pitch_mm"] + 1e-9
    cups = sum(c["sealed_volume_mm3"] for cavity in report["cavities"] for c in cavity["cups"])
    assert np.trapezoid(area, height) == pytest.approx(cups + report["filtered"]["volume_mm3"], rel=1e-4)


@pytest.mark.parametrize("suffix", [".stl", ".3mf", ".obj", ".ply"])
def test_vent_writes_a_verified_file_of_each_format(run: Runner, box: Path, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"vented{suffix}"
    done = run("vent", box, "--out", out, "--json")
    assert (done.code, done.err) == (0, "")
    report = done.json
    assert report["verified"] is True
    assert report["left"] == []
    assert {c["state"] for c in report["cavities_after"]} == {"breathing"}
    assert run("inspect", out).code == 0
    if suffix != ".3mf":  # an independent reader
        mesh = trimesh.load_mesh(out)
        removed = 8000 - 4096 - mesh.volume
        assert mesh.is_watertight
        assert removed == pytest.approx(len(report["vents"]) * np.pi * 1.25**2 * 2.0, rel=0.02)


def test_a_vent_goes_from_the_outer_skin_to_the_inner_one(run: Runner, box: Path, tmp_path: Path) -> None:
    vents = run("vent", box, "--out", tmp_path / "o.stl", "--json").json["vents"]
    assert vents[0]["cup"] == "A1"
    for vent in vents:
        entry, inner, axis = (np.array(vent[k]) for k in ("entry_mm", "exit_mm", "axis"))
        assert np.abs(entry).max() == pytest.approx(10.0)
        assert np.abs(inner).max() == pytest.approx(8.0)
        assert np.linalg.norm(axis) == pytest.approx(1.0)
        assert entry + axis * vent["wall_mm"] == pytest.approx(inner, abs=1e-4)


def test_a_solid_part_is_copied_and_verified(run: Runner, block: Path, tmp_path: Path) -> None:
    done = run("vent", block, "--out", tmp_path / "copy.stl", "--json")
    assert done.code == 0
    assert done.json["vents"] == []
    assert done.json["cavities"] == []
    assert trimesh.load_mesh(tmp_path / "copy.stl").volume == pytest.approx(10 * 12 * 14)


@pytest.mark.parametrize("arguments", [["--to-plate", "-1,0,0"], ["--to-plate=-1,0,0"]])
def test_a_direction_may_begin_with_a_minus(run: Runner, box: Path, arguments: list[str]) -> None:
    assert run("inspect", box, "--json", *arguments).json["pose"]["to_plate"] == [-1, 0, 0]


def test_on_the_plate_a_hole_in_its_face_is_closed(run: Runner, tmp_path: Path) -> None:
    drill = trimesh.creation.cylinder(1.5, 6)
    drill.apply_translation([0, 0, -10])
    solid = trimesh.boolean.difference([trimesh.creation.box([20, 20, 20]), trimesh.creation.box([16, 16, 16]), drill])
    solid.export(tmp_path / "part.stl")
    assert run("inspect", tmp_path / "part.stl").code == 0
    report = run("inspect", tmp_path / "part.stl", "--on", "plate", "--json").json
    assert report["cavities"][0]["cups"][0]["closed_by"] == "plate"
    assert report["cavities"][0]["state"] == "sealed"
    assert report["cavities"][0]["openings"][0]["width_mm"] == pytest.approx(3.0, abs=0.1)


def test_the_unit_scales_and_comes_back(run: Runner, tmp_path: Path) -> None:
    small = trimesh.util.concatenate([trimesh.creation.box([1, 1, 1]), trimesh.creation.box([0.8, 0.8, 0.8])])
    small.faces[12:] = small.faces[12:, ::-1]
    small.export(tmp_path / "inch.stl")
    done = run("vent", tmp_path / "inch.stl", "--unit", "inch", "--out", tmp_path / "out.stl", "--json")
    assert done.code == 0
    assert done.json["part"]["unit"] == {"given": "inch", "assumed": "inch"}
    assert done.json["cavities"][0]["volume_mm3"] == pytest.approx((0.8 * 25.4) ** 3, rel=0.01)
    assert np.ptp(trimesh.load_mesh(tmp_path / "out.stl").vertices, axis=0) == pytest.approx([1, 1, 1])


BAD = {
    "no such file": (["inspect", "nowhere.stl"], "nowhere.stl"),
    "no out": (["vent", "box.stl"], "--out"),
    "zero direction": (["inspect", "box.stl", "--to-plate", "0,0,0"], "0,0,0"),
    "not a direction": (["inspect", "box.stl", "--to-plate", "up"], "up"),
    "bad choice": (["inspect", "box.stl", "--on", "table"], "table"),
    "out of range": (["inspect", "box.stl", "--pitch", "0"], "0"),
    "not a number": (["inspect", "box.stl", "--gap", "nan"], "gap"),
    "unknown option": (["inspect", "box.stl", "--colour", "red"], "--colour"),
    "unknown job": (["peel", "box.stl"], ""),
    "empty file": (["inspect", "empty.stl"], "empty.stl"),
    "garbage": (["inspect", "garbage.stl"], "garbage.stl"),
    "folder": (["inspect", "."], ""),
    "unknown suffix": (["vent", "box.stl", "--out", "out.xyz"], "xyz"),
    "missing folder": (["vent", "box.stl", "--out", "missing/out.stl"], "missing"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_gets_one_line_and_code_2(
    run: Runner, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, case: str
) -> None:
    (tmp_path / "empty.stl").touch()
    (tmp_path / "garbage.stl").write_bytes(bytes(range(256)) * 4)
    monkeypatch.chdir(box.parent)
    arguments, named = BAD[case]
    before = set(tmp_path.iterdir())
    done = run(*arguments)
    assert done.code == 2
    assert done.out == ""
    assert len(done.err.strip().splitlines()) == 1
    assert named in done.err
    assert set(tmp_path.iterdir()) == before


def test_an_existing_file_needs_a_word(run: Runner, box: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.stl"
    out.write_bytes(b"precious")
    refused = run("vent", box, "--out", out)
    assert refused.code == 2
    assert "--overwrite" in refused.err
    assert out.read_bytes() == b"precious"
    assert run("vent", box, "--out", out, "--overwrite").code == 0
    assert out.stat().st_size > 684


def test_the_source_is_not_overwritten_without_a_word(run: Runner, box: Path) -> None:
    before = box.read_bytes()
    assert run("vent", box, "--out", box).code == 2
    assert box.read_bytes() == before
    assert run("vent", box, "--out", box, "--overwrite").code == 0
    assert run("inspect", box).code == 0


def test_what_is_not_verified_is_not_written(
    run: Runner, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out.stl"
    out.write_bytes(b"precious")
    monkeypatch.setattr(exporting, "compare", lambda *_: ("the hole is on the moon",))
    done = run("vent", box, "--out", out, "--overwrite")
    assert done.code == 1
    assert "on the moon" in done.err
    assert done.out == ""
    assert out.read_bytes() == b"precious"
    assert sorted(f.name for f in tmp_path.iterdir()) == ["box.stl", "out.stl"]


def test_an_interrupt_leaves_the_old_file(
    run: Runner, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> tuple[str, ...]:
        raise KeyboardInterrupt

    out = tmp_path / "out.stl"
    out.write_bytes(b"precious")
    monkeypatch.setattr(exporting, "compare", interrupted)
    done = run("vent", box, "--out", out, "--overwrite")
    assert done.code == 1
    assert out.read_bytes() == b"precious"
    assert sorted(f.name for f in tmp_path.iterdir()) == ["box.stl", "out.stl"]


def test_a_saved_plan_drills_the_same_file_again(run: Runner, box: Path, tmp_path: Path) -> None:
    plan = tmp_path / "work.ventplan"
    first = run("vent", box, "--out", tmp_path / "a.stl", "--save", plan, "--to-plate", "0,1,0", "--json").json
    again = run("vent", box, "--out", tmp_path / "b.stl", "--plan", plan, "--json")
    assert again.code == 0
    assert again.json["vents"] == first["vents"]
    assert again.json["pose"]["to_plate"] == [0, 1, 0]
    assert (tmp_path / "a.stl").read_bytes() == (tmp_path / "b.stl").read_bytes()
    without_the_file = run("vent", plan, "--out", tmp_path / "c.stl", "--plan", plan, "--json")
    assert without_the_file.code == 0
    assert (tmp_path / "c.stl").read_bytes() == (tmp_path / "a.stl").read_bytes()


def test_a_plan_of_another_part_is_refused(run: Runner, box: Path, block: Path, tmp_path: Path) -> None:
    plan = tmp_path / "work.ventplan"
    run("vent", box, "--out", tmp_path / "a.stl", "--save", plan)
    done = run("vent", block, "--out", tmp_path / "b.stl", "--plan", plan)
    assert done.code == 2
    assert "another part" in done.err
    assert not (tmp_path / "b.stl").exists()


def test_two_runs_are_identical(run: Runner, box: Path, tmp_path: Path) -> None:
    one = run("vent", box, "--out", tmp_path / "a.stl", "--json", "--to-plate", "1,2,3")
    two = run("vent", box, "--out", tmp_path / "b.stl", "--json", "--to-plate", "1,2,3")
    assert one.out == two.out
    assert (tmp_path / "a.stl").read_bytes() == (tmp_path / "b.stl").read_bytes()


def test_a_cavity_without_a_way_out_is_left_with_its_reason(run: Runner, tmp_path: Path) -> None:
    thick = trimesh.util.concatenate([trimesh.creation.box([60, 60, 60]), trimesh.creation.box([10, 10, 10])])
    thick.faces[12:] = thick.faces[12:, ::-1]
    thick.export(tmp_path / "thick.stl")
    done = run("vent", tmp_path / "thick.stl", "--out", tmp_path / "o.stl", "--json")
    assert done.code == 3
    assert done.json["vents"] == []
    assert "25" in " ".join(done.json["left"])
    assert run("vent", tmp_path / "thick.stl", "--out", tmp_path / "p.stl", "--longest-wall", "30").code == 0


def test_the_help_lists_every_parameter_with_range_and_default(run: Runner, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["vent", "--help"])
    assert left.value.code == 0
    text = re.sub(r"\s+", " ", capsys.readouterr().out)
    for parameter in p.PARAMETERS.values():
        assert parameter.flag in text
        assert parameter.default_text in text


def test_without_arguments_it_says_that_there_is_no_window(run: Runner) -> None:
    assert (run().code, run("part.stl").code) == (2, 2)
    assert "window" in run().err


WORDS = st.sampled_from(
    ["inspect", "vent", "box.stl", "--out", "o.stl", "--json", "--pitch", "1", "-5", "--to-plate", "0,0", "--on",
     "plate", "--plan", "--nested", "--", "", "ü", "--help-me", "--gap=", "--diameter", "1e9",
     "--vents-per-cavity", "2.5"]
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(WORDS, max_size=7))
def test_no_words_bring_it_down(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    code = main(words)
    error = capsys.readouterr().err
    assert code in (1, 2)
    assert len(error.strip().splitlines()) == 1
