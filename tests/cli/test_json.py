"""The JSON: as documented, in the units and by the conventions it promises."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bodies
import numpy as np
import pytest
import trimesh
from command_line import Runner
from json_contract import EXAMPLE, ROOT, documented, example, leaves, problems, shortened

from ventplanner.io.meshes import read
from ventplanner.io.project import SavedPlan, save_plan
from ventplanner.options import InsideLimits

Report = dict[str, Any]
TILTED = ("--to-plate", "1,2,3")
CASES: dict[str, tuple[str, ...]] = {
    "sealed": ("hollow_box",),
    "tilted": ("u_bend", *TILTED),
    "two cups": ("u_bend",),
    "late": ("side_hole", "--unit", "mm"),
    "on the plate": ("plate_hole", "--on", "plate"),
    "damaged": ("open_box",),
    "solid": ("block",),
    "filtered": ("u_bend", "--ignore-below", "3000"),
    "coarse": ("u_bend", "--pitch", "0.5"),
    "thin": ("hollow_box", "--ignore-below", "1e6", "--thin-below", "20", "--overhang", "45"),
}


@pytest.fixture(scope="module")
def inspected(run: Runner, parts: dict[str, Path], coarse: tuple[str, str]) -> dict[str, Report]:
    return {case: run("inspect", parts[name], "--json", *more, *coarse).json for case, (name, *more) in CASES.items()}


@pytest.fixture(scope="module")
def joined(
    run: Runner, parts: dict[str, Path], coarse: tuple[str, str], tmp_path_factory: pytest.TempPathFactory
) -> Report:
    """Of a part that has a cavity deep inside."""
    out = tmp_path_factory.mktemp("joined") / "joined.stl"
    return run("vent", parts["keel"], "--passages", "auto", "--out", out, "--json", *coarse).json


@pytest.fixture(scope="module")
def vented(run: Runner, tmp_path_factory: pytest.TempPathFactory) -> Report:
    """That of the documented example."""
    out = tmp_path_factory.mktemp("example") / "vented.stl"
    words = [str(ROOT / word) if word.startswith("samples/") else word for word in EXAMPLE]
    return run(*(str(out) if word == "vented.stl" else word for word in words)).json | {"file": EXAMPLE[1]}


@pytest.mark.parametrize("case", CASES)
def test_every_key_is_documented_with_its_type(inspected: dict[str, Report], case: str) -> None:
    types, _ = documented()
    assert problems(inspected[case], types) == []


def test_what_vent_adds_is_documented(vented: Report, joined: Report) -> None:
    _, types = documented()
    assert problems(vented, types) == []
    assert problems(joined, types) == []


def test_every_documented_key_occurs(inspected: dict[str, Report], vented: Report, joined: Report) -> None:
    seen = {key for report in (vented, joined, *inspected.values()) for key, _ in leaves(report)}
    _, types = documented()
    # The cups of the example breathe well; those of a vented part are no other than those of any part.
    assert {key for key in set(types) - seen if not key.startswith("cavities_after[].cups[]")} == set()


def test_a_wrong_report_would_be_seen(vented: Report) -> None:
    _, types = documented()
    assert problems(vented | {"colour": "red"}, types) == ["colour is not documented"]
    assert problems({k: v for k, v in vented.items() if k != "pitch_mm"}, types) == ["pitch_mm is missing"]
    assert problems(vented | {"pitch_mm": "0.2"}, types) == ["pitch_mm is no number: '0.2'"]
    assert problems(vented | {"pitch_mm": float("inf")}, types) == ["pitch_mm is no number: inf"]
    assert problems(vented | {"verified": False}, types) == ["verified is no true: False"]


def test_the_example_of_the_document_is_true(vented: Report) -> None:
    told, real = (list(leaves(report)) for report in (example(), shortened(vented)))
    renew = "if this change is meant: python tests/json_contract.py"
    assert [key for key, _ in told] == [key for key, _ in real], renew
    for (key, said), (_, is_) in zip(told, real, strict=True):
        if isinstance(said, dict) or (isinstance(said, list) and said and isinstance(said[0], dict)):
            continue
        words = isinstance(said, list) and any(isinstance(each, str) for each in said)
        near = isinstance(said, (int, float, list)) and not isinstance(said, bool) and not words
        assert np.allclose(is_, said, rtol=1e-3, atol=0.01) if near else is_ == said, f"{key}; {renew}"


@pytest.mark.parametrize("case", CASES)
def test_the_sealed_area_is_a_curve_whose_integral_is_all_that_is_sealed(
    inspected: dict[str, Report], case: str
) -> None:
    report = inspected[case]
    height, area = (np.array(report["sealed_area"][k]) for k in ("height_mm", "area_mm2"))
    assert len(height) == len(area)
    assert height[0] == 0.0
    assert (np.diff(height) > 0.0).all()
    assert np.diff(height).max() <= report["pitch_mm"] + 1e-6  # written to six decimals
    assert (area >= 0.0).all()
    cups = [cup for cavity in report["cavities"] for cup in cavity["cups"]]
    sealed = sum(cup["sealed_volume_mm3"] for cup in cups) + report["filtered"]["volume_mm3"]
    assert np.trapezoid(area, height) == pytest.approx(sealed, rel=1e-5, abs=1e-6)
    for cup in cups:
        assert cup["peak_area_mm2"] <= area.max() + 1e-6
        assert cup["from_height_mm"] <= cup["peak_height_mm"] <= height[-1]


def test_measures_of_a_hollow_box_are_its_own(inspected: dict[str, Report]) -> None:
    report = inspected["sealed"]
    (cavity,) = report["cavities"]
    (cup,) = cavity["cups"]
    assert (cavity["id"], cavity["state"], cup["id"], cup["state"], cup["closed_by"]) == (
        "A", "sealed", "A1", "sealed", "print",
    )  # fmt: skip
    assert (cup["to_height_mm"], cup["joins_height_mm"]) == (None, None)
    assert cavity["volume_mm3"] == pytest.approx(16**3, rel=1e-9)
    assert cavity["bounds_mm"] == [[-8, -8, -8], [8, 8, 8]]
    assert cup["from_height_mm"] == pytest.approx(2.0)
    assert cup["start_mm"] == pytest.approx([0, 0, -8], abs=0.1)
    assert cup["peak_area_mm2"] == pytest.approx(16**2)
    assert report["part"]["volume_mm3"] == pytest.approx(20**3 - 16**3)
    assert report["part"]["bounds_mm"] == [[-10, -10, -10], [10, 10, 10]]
    assert report["sealed_area"]["height_mm"][-1] == pytest.approx(20.0)
    assert report["left"] == ["Cavity A is sealed from 2.0 mm up and has no way out."]


def test_the_younger_of_two_cups_counts_until_it_joins(inspected: dict[str, Report]) -> None:
    old, young = inspected["two cups"]["cavities"][0]["cups"]
    assert (old["from_height_mm"], old["joins_height_mm"]) == (pytest.approx(3.0), None)
    assert (young["from_height_mm"], young["joins_height_mm"]) == (pytest.approx(3.0), pytest.approx(21.0))
    assert young["sealed_volume_mm3"] == pytest.approx(8 * 16 * 18, rel=0.01)
    assert old["sealed_volume_mm3"] == pytest.approx(8 * 16 * 18 + 24 * 16 * 6, rel=0.01)


def test_a_late_cup_ends_where_its_hole_begins(inspected: dict[str, Report]) -> None:
    report = inspected["late"]
    (cavity,) = report["cavities"]
    assert cavity["state"] == "late"
    assert cavity["cups"][0]["to_height_mm"] == pytest.approx(8.0, abs=report["pitch_mm"])
    assert cavity["openings"][0]["width_mm"] == pytest.approx(4.0, abs=0.1)
    assert cavity["openings"][0]["at_mm"] == pytest.approx([9, 0, 0], abs=1.1)
    assert report["part"]["unit"] == {"given": "mm", "assumed": "mm"}


def test_the_plate_closes_what_only_it_closes(
    run: Runner, parts: dict[str, Path], inspected: dict[str, Report], coarse: tuple[str, str]
) -> None:
    assert run("inspect", parts["plate_hole"], *coarse).code == 0
    report = inspected["on the plate"]
    (cavity,) = report["cavities"]
    assert report["pose"]["on"] == "plate"
    assert (cavity["state"], cavity["cups"][0]["closed_by"]) == ("sealed", "plate")
    assert cavity["openings"][0]["width_mm"] == pytest.approx(3.0, abs=0.1)


def test_heights_are_measured_from_the_lowest_point_away_from_the_plate(inspected: dict[str, Report]) -> None:
    report = inspected["tilted"]
    up = -np.array(report["pose"]["to_plate"])
    assert up == pytest.approx(-np.array([1, 2, 3]) / np.sqrt(14), abs=1e-6)
    corners = np.array(np.meshgrid([-15, 15], [-10, 10], [-15, 15])).reshape(3, -1).T
    lowest, highest = (corners @ up).min(), (corners @ up).max()
    (cup, *_) = report["cavities"][0]["cups"]
    assert np.dot(cup["start_mm"], up) - lowest == pytest.approx(cup["from_height_mm"], abs=0.2)
    assert report["sealed_area"]["height_mm"][-1] == pytest.approx(highest - lowest)


def test_the_gap_moves_no_height(
    run: Runner, parts: dict[str, Path], inspected: dict[str, Report], coarse: tuple[str, str]
) -> None:
    far = run("inspect", parts["hollow_box"], "--json", "--gap", "12.5", *coarse).json
    assert far["pose"].pop("gap_mm") == 12.5
    near = inspected["sealed"] | {"pose": dict(inspected["sealed"]["pose"])}
    assert near["pose"].pop("gap_mm") == 5.0
    assert far == near


def test_the_filter_counts_what_it_leaves_out(inspected: dict[str, Report]) -> None:
    whole, filtered = inspected["two cups"], inspected["filtered"]
    assert whole["filtered"] == {"count": 0, "volume_mm3": 0.0}
    assert filtered["filtered"]["count"] == 1
    assert filtered["filtered"]["volume_mm3"] == pytest.approx(8 * 16 * 18, rel=0.01)
    assert filtered["sealed_area"] == whole["sealed_area"]


def test_damage_is_named_with_count_and_place(inspected: dict[str, Report]) -> None:
    (note,) = inspected["damaged"]["part"]["health"]
    assert (note["what"], note["count"]) == ("open edges", 3)
    assert np.abs(note["at_mm"]).max() == pytest.approx(10.0)
    assert "may be wrong" in inspected["damaged"]["assumptions"][-1]


def test_the_pitch_asked_for_is_taken_and_said(inspected: dict[str, Report]) -> None:
    assert inspected["coarse"]["pitch_mm"] == 0.5
    assert any("0.5 mm as asked" in text for text in inspected["coarse"]["assumptions"])


@pytest.mark.parametrize(("nested", "states"), [("auto", 1), ("cavity", 1), ("solid", 0), ("as-is", 0)])
def test_the_reading_of_nested_skins_can_be_chosen(
    run: Runner, coarse: tuple[str, str], tmp_path: Path, nested: str, states: int
) -> None:
    trimesh.util.concatenate([bodies.box(20), bodies.box(16)]).export(tmp_path / "part.stl")
    report = run("inspect", tmp_path / "part.stl", "--json", "--nested", nested, *coarse).json
    assert len(report["cavities"]) == states
    assert report["part"]["volume_mm3"] == pytest.approx(20**3 - states * 16**3, rel=1e-6)


def test_two_runs_print_the_same(run: Runner, parts: dict[str, Path], coarse: tuple[str, str]) -> None:
    one, two = (run("inspect", parts["u_bend"], "--json", *TILTED, *coarse) for _ in range(2))
    assert one.out == two.out


def test_two_runs_write_the_same_files_and_tell_the_same_of_them(
    run: Runner, parts: dict[str, Path], tmp_path: Path, coarse: tuple[str, str]
) -> None:
    words = ("vent", parts["u_bend"], "--json", "--to-plate", "1,2,3", "--pitch", 0.2, *coarse)
    runs = [run(*words, "--out", tmp_path / f"{k}.3mf", "--save", tmp_path / f"{k}.ventplan") for k in range(2)]
    assert runs[0].out == runs[1].out
    for suffix in ("3mf", "ventplan"):
        assert (tmp_path / f"0.{suffix}").read_bytes() == (tmp_path / f"1.{suffix}").read_bytes()


def test_a_look_inside_is_told_and_changes_neither_what_is_left_nor_the_exit_code(
    run: Runner, parts: dict[str, Path], coarse: tuple[str, str]
) -> None:
    usual = run("inspect", parts["hollow_box"], "--json", *coarse)
    all_named = run("inspect", parts["hollow_box"], "--json", *coarse, "--thin-below", "20", "--overhang", "90")
    assert usual.code == all_named.code
    assert usual.json["left"] == all_named.json["left"]
    assert usual.json["inside"]["counts"]["thin"] == 0 < all_named.json["inside"]["counts"]["thin"]
    assert all_named.json["inside"]["overhang_deg"] == 90.0


def test_a_look_inside_takes_its_limits_from_the_plan_unless_they_are_given(
    run: Runner, parts: dict[str, Path], coarse: tuple[str, str], tmp_path: Path
) -> None:
    limits = InsideLimits(thin_mm=20.0, overhang_deg=45.0)
    save_plan(tmp_path / "a.ventplan", SavedPlan(read(parts["hollow_box"]), limits=limits))
    inside = run("inspect", tmp_path / "a.ventplan", "--json", "--overhang", "10", *coarse).json["inside"]
    assert (inside["thin_below_mm"], inside["overhang_deg"]) == (20.0, 10.0)


def test_the_words_tell_what_a_look_inside_found(run: Runner, parts: dict[str, Path]) -> None:
    text = run("inspect", parts["hollow_box"], "--thin-below", "20").out
    assert "Look inside (hinders nothing):" in text
    assert "Wall under 20 mm" in text
    assert "Ceiling under 30 degrees, 1:" in text
