"""`--keep-clear`: no vent in a surface that is marked by a colour, a painted copy, or a plan."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bodies import box, inward, solid
from command_line import Runner
from painted_files import painted

from ventplanner.io.project import load_plan

pytestmark = pytest.mark.usefixtures("no_other_places")

PART = solid(box((20.0, 20.0, 20.0)), inward(box((16.0, 16.0, 16.0))))
CORNERS = PART.vertices[PART.faces]
LOW = np.abs(CORNERS[:, :, 2] + 10.0).max(axis=1) < 1e-9
OUTSIDE = np.abs(np.abs(CORNERS).max(axis=(1, 2)) - 10.0) < 1e-9
OUTSIDE &= np.any([np.ptp(CORNERS[:, :, k], axis=1) == 0 for k in range(3)], axis=0)


@pytest.fixture(scope="module")
def coloured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return painted(tmp_path_factory.mktemp("coloured") / "box.ply", PART, LOW, "255 0 0")


def test_vents_stay_out_of_a_colour_and_the_plan_keeps_it(run: Runner, coloured: Path, tmp_path: Path) -> None:
    plain = run("vent", coloured, "--out", tmp_path / "plain.stl", "--json").json
    assert plain["keep_clear"] == {"faces": 0, "area_mm2": 0.0}
    assert any(v["entry_mm"][2] == pytest.approx(-10.0) for v in plain["vents"])
    plan = tmp_path / "kept.ventplan"
    done = run("vent", coloured, "--out", tmp_path / "kept.stl", "--keep-clear", "#ff0000", "--save", plan, "--json")
    assert (done.code, done.err) == (0, "")
    assert done.json["keep_clear"] == {"faces": 2, "area_mm2": 400.0}
    assert done.json["vents"]
    assert all(v["entry_mm"][2] > -9.0 for v in done.json["vents"])
    marks = load_plan(plan).keep_clear
    assert marks is not None
    assert marks.flags.tolist() == LOW.tolist()
    again = run("inspect", coloured, "--keep-clear", plan, "--json")
    assert again.json["keep_clear"]["faces"] == 2


def test_where_no_place_is_left_the_reason_says_so(run: Runner, tmp_path: Path) -> None:
    part = painted(tmp_path / "box.ply", PART, OUTSIDE, "0 0 255")
    done = run("vent", part, "--out", tmp_path / "out.stl", "--keep-clear", "#0000ff", "--json")
    assert done.code == 3
    assert done.json["vents"] == []
    assert "no place for a vent is outside the surface that is to be kept clear" in done.json["left"][0]


def test_vents_of_a_plan_in_a_surface_marked_later_are_left_to_do(run: Runner, coloured: Path, tmp_path: Path) -> None:
    plan = tmp_path / "box.ventplan"
    run("vent", coloured, "--out", tmp_path / "a.stl", "--save", plan)
    copy = painted(tmp_path / "copy.ply", PART, LOW)
    done = run("vent", plan, "--out", tmp_path / "b.stl", "--keep-clear", copy, "--json")
    assert done.code == 3
    assert len(done.json["vents"]) == 2
    assert [text for text in done.json["left"] if "cuts the surface to be kept clear" in text]


@pytest.mark.parametrize(
    ("value", "told"),
    [("#ff00", "no colour"), ("#00ff00", "no triangle has this colour"), ("nowhere.ply", "no such file")],
)
def test_what_marks_nothing_is_bad_input(run: Runner, coloured: Path, tmp_path: Path, value: str, told: str) -> None:
    done = run("vent", coloured, "--out", tmp_path / "out.stl", "--keep-clear", value)
    assert done.code == 2
    assert told in done.err
    assert not (tmp_path / "out.stl").exists()
