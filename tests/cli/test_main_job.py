"""`ventplanner vent`: from a hollow part to a verified file, and nothing at all where that is not possible."""

from __future__ import annotations

from pathlib import Path

import bodies
import numpy as np
import pytest
import trimesh
from command_line import Runner

from ventplanner.app import exporting, jobs

pytestmark = pytest.mark.usefixtures("no_other_places")

FORMATS = (".stl", ".3mf", ".obj", ".ply")


@pytest.mark.parametrize("suffix", FORMATS)
def test_vent_writes_a_verified_file_of_each_format(
    run: Runner, box: Path, tmp_path: Path, coarse: tuple[str, str], suffix: str
) -> None:
    out = tmp_path / f"vented{suffix}"
    done = run("vent", box, "--out", out, "--json")
    assert (done.code, done.err) == (0, "")
    report = done.json
    assert (report["verified"], report["left"]) == (True, [])
    assert {c["state"] for c in report["cavities_after"]} == {"breathing"}
    assert run("inspect", out, *coarse).code == 0
    # An independent reader.
    mesh = trimesh.load(out, force="mesh")
    mesh.merge_vertices()
    assert mesh.is_watertight
    assert mesh.bounds.tolist() == [[-10, -10, -10], [10, 10, 10]]
    removed = 20**3 - 16**3 - mesh.volume
    assert removed == pytest.approx(len(report["vents"]) * np.pi * 1.25**2 * 2.0, rel=0.02)
    assert mesh.euler_number == 2 + 2 - 2 * len(report["vents"])


@pytest.mark.parametrize("suffix", FORMATS)
def test_a_solid_part_is_copied_and_verified(run: Runner, parts: dict[str, Path], tmp_path: Path, suffix: str) -> None:
    done = run("vent", parts["block"], "--out", tmp_path / f"copy{suffix}", "--json")
    assert (done.code, done.err) == (0, "")
    report = done.json
    assert (report["vents"], report["cavities"], report["cavities_after"]) == ([], [], [])
    assert report["verified"] is True
    copy = trimesh.load(tmp_path / f"copy{suffix}", force="mesh")
    assert copy.bounds.tolist() == [[-5, -6, -7], [5, 6, 7]]
    assert copy.volume == pytest.approx(10 * 12 * 14)


def test_a_vent_goes_from_the_outer_skin_to_the_inner_one(run: Runner, box: Path, tmp_path: Path) -> None:
    first, second = run("vent", box, "--out", tmp_path / "o.stl", "--json").json["vents"]
    assert (first["cup"], first["cavity"], second["cavity"]) == ("A1", "A", "A")
    assert first["entry_mm"][2] == -10.0
    for vent in (first, second):
        entry, inner, axis = (np.array(vent[k]) for k in ("entry_mm", "exit_mm", "axis"))
        assert np.abs(entry).max() == pytest.approx(10.0)
        assert np.abs(inner).max() == pytest.approx(8.0)
        assert np.linalg.norm(axis) == pytest.approx(1.0)
        assert entry + axis * vent["wall_mm"] == pytest.approx(inner, abs=1e-4)


def test_the_rules_for_vents_are_kept(run: Runner, box: Path, tmp_path: Path) -> None:
    words = ("--diameter", 3, "--vents-per-cavity", 4)
    vents = run("vent", box, "--out", tmp_path / "o.stl", "--json", *words).json["vents"]
    assert [vent["diameter_mm"] for vent in vents] == [3.0] * 4


def test_the_unit_scales_and_comes_back(run: Runner, tmp_path: Path) -> None:
    inches = trimesh.util.concatenate([bodies.box(1), bodies.inward(bodies.box(0.8))])
    inches.export(tmp_path / "inch.stl")
    report = run("vent", tmp_path / "inch.stl", "--unit", "inch", "--out", tmp_path / "out.stl", "--json").json
    assert report["part"]["unit"] == {"given": "inch", "assumed": "inch"}
    assert report["part"]["bounds_mm"] == [[-12.7] * 3, [12.7] * 3]
    assert report["cavities"][0]["volume_mm3"] == pytest.approx((0.8 * 25.4) ** 3, rel=0.01)
    assert [vent["diameter_mm"] for vent in report["vents"]] == [2.5, 2.5]
    written = trimesh.load_mesh(tmp_path / "out.stl")
    assert written.bounds.tolist() == [[-0.5] * 3, [0.5] * 3]
    assert 1 - 0.8**3 - written.volume == pytest.approx(2 * np.pi * (1.25 / 25.4) ** 2 * 0.1, rel=0.02)


def test_a_cavity_without_a_way_out_is_left_with_its_reason(
    run: Runner, tmp_path: Path, coarse: tuple[str, str]
) -> None:
    trimesh.util.concatenate([bodies.box(60), bodies.inward(bodies.box(10))]).export(tmp_path / "thick.stl")
    words = ("vent", tmp_path / "thick.stl", "--pitch", 0.5, "--json", *coarse, "--out")
    done = run(*words, tmp_path / "o.3mf")
    assert (done.code, done.json["vents"], done.json["verified"]) == (3, [], True)
    (reason,) = done.json["left"]
    assert reason.startswith("Cup A1: no vent, because ")
    assert "25" in reason
    assert run(*words, tmp_path / "p.stl", "--longest-wall", 30).code == 0


def test_an_existing_file_needs_a_word(run: Runner, box: Path, tmp_path: Path, coarse: tuple[str, str]) -> None:
    out = tmp_path / "out.stl"
    out.write_bytes(b"precious")
    refused = run("vent", box, "--out", out)
    assert (refused.code, refused.out) == (2, "")
    assert "--overwrite" in refused.err
    assert out.read_bytes() == b"precious"
    assert run("vent", box, "--out", out, "--overwrite").code == 0
    assert run("inspect", out, *coarse).code == 0


def test_the_source_is_not_overwritten_without_a_word(
    run: Runner, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, coarse: tuple[str, str]
) -> None:
    before = box.read_bytes()
    monkeypatch.chdir(tmp_path)
    (tmp_path / "link.stl").symlink_to(box)
    for name in (box, "box.stl", "./box.stl", "link.stl"):
        assert run("vent", box, "--out", name).code == 2
        assert box.read_bytes() == before
    assert run("vent", box, "--out", box, "--overwrite").code == 0
    assert run("inspect", box, *coarse).code == 0


def names_in(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_what_is_not_verified_is_not_written(
    run: Runner, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out.stl"
    out.write_bytes(b"precious")
    monkeypatch.setattr(exporting, "compare", lambda *_: ("the hole is on the moon", "it is round"))
    done = run("vent", box, "--out", out, "--overwrite", "--save", tmp_path / "work.ventplan")
    assert (done.code, done.out) == (1, "")
    assert done.err == "Not verified: the hole is on the moon; it is round. Nothing was written.\n"
    assert out.read_bytes() == b"precious"
    assert names_in(tmp_path) == ["box.stl", "out.stl"]


@pytest.mark.parametrize("place", ["drill", "write_draft", "compare", "look_again"])
def test_an_interrupt_leaves_the_old_file(
    run: Runner, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    out = tmp_path / "out.stl"
    out.write_bytes(b"precious")
    monkeypatch.setattr(exporting, place, interrupted)
    done = run("vent", box, "--out", out, "--overwrite", "--save", tmp_path / "work.ventplan")
    assert (done.code, done.out, done.err) == (1, "", "Cancelled. Nothing was changed.\n")
    assert out.read_bytes() == b"precious"
    assert names_in(tmp_path) == ["box.stl", "out.stl"]


def test_too_little_memory_is_said(run: Runner, box: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(jobs, "analyse", full)
    done = run("inspect", box)
    assert (done.code, done.out) == (1, "")
    assert "--pitch" in done.err


def test_names_of_all_kinds_are_taken(run: Runner, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "häfen & möwen").mkdir()
    monkeypatch.chdir(tmp_path / "häfen & möwen")
    box.rename("-box.stl")
    for words in (("--", "-box.stl"), ("./-box.stl",)):
        assert run("inspect", "--json", *words).json["file"] == "-box.stl"
    done = run("vent", "--out=-vented möwe.STL", "--json", "./-box.stl")
    assert done.code == 0
    assert names_in(Path()) == ["-box.stl", "-vented möwe.STL"]
