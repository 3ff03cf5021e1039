"""`ventplanner mend`: what it prints, writes and refuses."""

from __future__ import annotations

from pathlib import Path

import bodies
import damage
import numpy as np
import pytest
from command_line import Runner
from json_contract import mend_problems

from ventplanner.geometry.topology import topology
from ventplanner.io.meshes import read


@pytest.fixture(scope="module")
def broken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A hollow ball with a solid one in it, faces missing, flipped and repeated, corners that do not meet."""
    path = tmp_path_factory.mktemp("mend") / "broken.stl"
    triangles, rng = damage.soup(damage.nested_balls()), np.random.default_rng(5)
    for kind in (damage.missing, damage.not_welded, damage.flipped, damage.repeated):
        triangles = kind(triangles, rng)
    mesh = bodies.trimesh.Trimesh(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3), process=False)
    mesh.export(path)
    return path


@pytest.mark.parametrize("suffix", ["stl", "3mf", "obj", "ply"])
def test_a_broken_part_is_mended_and_written(run: Runner, broken: Path, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"mended.{suffix}"
    done = run("mend", broken, "--out", out)
    assert (done.code, done.err) == (0, "")
    for word in ("open edges: ", "weld: vertices joined", "orient: faces turned over", "holes: holes filled", ") mm\n"):
        assert word in done.out
    assert "3 skins, 1 of them of cavities" in done.out
    assert done.out.endswith(f"Read again, compared and written: {out}\n")
    mended = read(out)
    assert topology(mended).is_closed
    assert mended.volume == pytest.approx(damage.nested_balls().volume, rel=1e-4)


def test_the_json_is_as_documented(run: Runner, broken: Path, tmp_path: Path) -> None:
    report = run("mend", broken, "--out", tmp_path / "mended.stl", "--largest-hole", "4", "--json").json
    assert mend_problems(report) == []
    assert report["mended"]["is_closed"] is True
    assert {one["step"] for one in report["steps"]} >= {"weld", "duplicates", "orient", "holes"}
    assert report["left"] == []


def test_what_is_refused_is_left_and_told(run: Runner, broken: Path, tmp_path: Path) -> None:
    done = run("mend", broken, "--out", tmp_path / "part.stl", "--without", "holes", "--json")
    assert done.code == 3
    assert mend_problems(done.json) == []
    assert done.json["rules"]["without"] == ["holes"]
    assert [one["what"] for one in done.json["left"]] == ["open edges"]
    assert "holes" not in {one["step"] for one in done.json["steps"]}
    assert (tmp_path / "part.stl").exists()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--largest-hole", "0.01"), "The part cannot be closed: open edges ("),
        (("--without", "sand"), "There is no step called sand. Choose of weld, "),
        (("--tolerance", "-1"), "-1"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_written(
    run: Runner, broken: Path, tmp_path: Path, more: tuple[str, ...], said: str
) -> None:
    done = run("mend", broken, "--out", tmp_path / "out.stl", *more)
    assert (done.code, done.out) == (2, "")
    assert said in done.err
    assert list(tmp_path.iterdir()) == []


def test_what_nothing_closes_is_drawn_anew_only_when_that_is_asked_for(run: Runner, tmp_path: Path) -> None:
    box = bodies.box(20).subdivide().subdivide()
    box.update_faces(box.triangles_center[:, 2] < 9.99)
    box.export(tmp_path / "open.stl")
    refused = run("mend", tmp_path / "open.stl", "--out", tmp_path / "mended.stl")
    assert (refused.code, list(tmp_path.iterdir())) == (2, [tmp_path / "open.stl"])
    assert "have its broken skins drawn anew with --redraw, which tells what is lost" in refused.err
    done = run("mend", tmp_path / "open.stl", "--out", tmp_path / "mended.stl", "--redraw", "--json")
    assert (done.code, mend_problems(done.json)) == (0, [])
    (step,) = [one for one in done.json["steps"] if one["step"] == "redraw"]
    assert (step["volume_mm3"], done.json["rules"]["redraw"], done.json["left"]) == (None, True, [])
    assert step["detail_mm"] < 1.0
    assert abs(done.json["mended"]["volume_mm3"] - 8000.0) < 0.1 * step["doubt_mm3"]
    told = run("mend", tmp_path / "open.stl", "--out", tmp_path / "told.stl", "--redraw").out
    assert "may be gone, about " in told


def test_a_hollow_that_goes_through_itself_is_drawn_anew_with_its_loss(run: Runner, tmp_path: Path) -> None:
    inner = bodies.ball(6.0, fine=3)
    inner.vertices[:60] *= 1.0 - 0.3 * np.random.default_rng(2).random((60, 1))
    inner.vertices[np.argmax(inner.vertices[:, 2])] = [1.3, 0.7, -8.0]
    bodies.trimesh.util.concatenate([bodies.ball(10.0), bodies.inward(inner)]).export(tmp_path / "tangled.stl")
    done = run("mend", tmp_path / "tangled.stl", "--out", tmp_path / "mended.stl", "--json")
    assert (done.code, mend_problems(done.json)) == (0, [])
    (step,) = [one for one in done.json["steps"] if one["step"] == "untangle"]
    assert 0.0 < step["distance_mm"] < 1.0
    assert abs(step["volume_mm3"]) < 1e-3 * inner.volume
    assert (done.json["mended"]["cavities"], done.json["left"]) == (1, [])
    told = run("mend", tmp_path / "tangled.stl", "--out", tmp_path / "told.stl").out
    assert "went through themselves" in told
    assert "mm off, " in told
