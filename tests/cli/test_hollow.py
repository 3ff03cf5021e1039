"""`ventplanner hollow`: what it prints, writes and refuses."""

from __future__ import annotations

from pathlib import Path

import bodies
import numpy as np
import pytest
import trimesh
from command_line import Runner
from json_contract import hollow_problems

from ventplanner.analysis.findings import analyse
from ventplanner.io.meshes import read


@pytest.fixture(scope="module")
def ball(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("hollow") / "ball.stl"
    bodies.ball(10.0).export(path)
    return path


def test_a_solid_part_is_hollowed_and_written(run: Runner, ball: Path, tmp_path: Path) -> None:
    out = tmp_path / "hollow.stl"
    done = run("hollow", ball, "--wall", "2", "--out", out)
    assert done.code == 0
    assert done.err == ""
    for word in ("Resin saved: 2.1 mL, 2 g", "nowhere under 1.99", "Largest section: 31", f"ventplanner vent {out}"):
        assert word in done.out
    assert done.out.endswith(f"Read again, compared and written: {out}\n")
    cavities = analyse(read(out)).cavities
    assert [c.state for c in cavities] == ["sealed"]
    assert cavities[0].volume == pytest.approx(4 / 3 * np.pi * 8.0**3, rel=0.01)


@pytest.mark.parametrize("suffix", ["stl", "3mf", "obj", "ply"])
def test_the_triangles_of_the_part_come_back_from_every_format(
    run: Runner, ball: Path, tmp_path: Path, suffix: str
) -> None:
    out = tmp_path / f"hollow.{suffix}"
    assert run("hollow", ball, "--wall", "2", "--fineness", "coarse", "--out", out).code == 0
    before, after = read(ball), read(out)
    count = len(before.faces)
    assert np.array_equal(after.vertices[after.faces[:count]], before.vertices[before.faces])


def test_the_json_is_as_documented(run: Runner, ball: Path, tmp_path: Path) -> None:
    words = ("--wall", "2", "--inside", "struts", "--cell", "6", "--json", "--profile", tmp_path / "profile.json")
    (tmp_path / "profile.json").write_text('{"schema": "ventplanner-profile/1", "density_kg_m3": 1200}')
    report = run("hollow", ball, "--out", tmp_path / "hollow.stl", *words).json
    assert hollow_problems(report) == []
    saved = report["saved"]
    assert saved["weight_g"] == pytest.approx(1.2e-3 * saved["volume_mm3"], abs=1e-6)
    assert report["draining"]["way_through_mm"] == pytest.approx(6 / np.sqrt(2) - 1.2, abs=1e-6)
    assert sum(report["sections"]["before_mm2"]) * 0.25 == pytest.approx(report["part"]["volume_mm3"], rel=0.01)
    plain = run("hollow", ball, "--out", tmp_path / "plain.stl", "--wall", "2", "--json").json
    assert hollow_problems(plain) == []
    assert plain["draining"]["way_through_mm"] is None
    assert saved["volume_mm3"] < 0.9 * plain["saved"]["volume_mm3"]


def test_a_painted_surface_stays_solid(run: Runner, tmp_path: Path) -> None:
    box = trimesh.creation.box((20, 20, 20))
    top = box.triangles_center[:, 2] > 9.0
    box.visual.face_colors = np.where(top[:, None], [255, 0, 0, 255], [200, 200, 200, 255])
    box.export(tmp_path / "box.ply")
    words = ("hollow", tmp_path / "box.ply", "--wall", "2", "--keep-solid", "#ff0000", "--solid-depth", "7")
    assert run(*words, "--out", tmp_path / "out.stl").code == 0
    hollow = analyse(read(tmp_path / "out.stl")).cavities[0]
    assert hollow.bounds[1, 2] == pytest.approx(3.0, abs=0.02)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--wall", "30"), "nothing of the part can be hollowed"),
        (("--open", "plate"), "No face of the part lies flat on the plate"),
        (("--wall", "0"), "The wall cannot be 0 mm"),
        (("--inside", "foam"), "cannot be 'foam'"),
        (("--keep-solid", "#00ff00"), "no"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_written(
    run: Runner, ball: Path, tmp_path: Path, more: tuple[str, ...], said: str
) -> None:
    done = run("hollow", ball, "--out", tmp_path / "out.stl", *more)
    assert (done.code, done.out) == (2, "")
    assert said in done.err
    assert list(tmp_path.iterdir()) == []
