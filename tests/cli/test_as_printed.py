"""What the command line says about openings and vents as they print."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from statistics import NormalDist
from typing import Any

import bodies
import pytest
from command_line import Runner

from ventplanner.io.profile_json import write_profile
from ventplanner.physics import curing
from ventplanner.profile import Profile

pytestmark = pytest.mark.usefixtures("no_other_places")


def boxed(folder: Path, *holes: bodies.Mesh) -> Path:
    """A hollow box, 20 mm, walls 2 mm, with holes."""
    path = folder / "box.stl"
    bodies.cut(bodies.box(20.0), bodies.box(16.0), *holes).export(path)
    return path


def opening(run: Runner, part: Path, *more: object) -> dict[str, Any]:
    found = run("inspect", part, "--json", *more).json["as_printed"]
    assert found["vents"] == []
    (one,) = found["openings"]
    return dict(one)


def test_a_wide_hole_along_the_build_prints_narrower_by_its_bleed(run: Runner, tmp_path: Path) -> None:
    part = boxed(tmp_path, bodies.rod((0, 0, -12), (0, 0, -6), 1.0, 128))
    one = opening(run, part)
    assert one["open"]
    assert one["nominal_mm"] == pytest.approx(2.0, abs=0.05)
    # Non-central chi-square (see curing); the raster of 0.05 mm takes up to two and a half pixels more, never less.
    exact = curing.printed_diameter(2.0, 0.05, 4.0)
    assert exact - 0.13 <= one["printed_mm"] <= exact
    assert sum(one["taken_mm"].values()) == pytest.approx(one["nominal_mm"] - one["printed_mm"], abs=1e-5)


def test_a_sideways_hole_as_low_as_the_print_through_closes(run: Runner, tmp_path: Path) -> None:
    bench = tmp_path / "bench.json"
    # 0.668 mm come down at Dp 0.2, layer 0.05, E/Ec 8; worked by hand.
    write_profile(bench, Profile("Deep light", penetration_mm=0.2, exposure_ratio=8.0, blur_mm=0.0))
    part = boxed(tmp_path, bodies.rod((0, 0, 0), (12, 0, 0), 0.3, 64))
    closed = opening(run, part, "--profile", bench)
    assert (closed["open"], closed["printed_mm"], closed["cause"]) == (False, 0.0, "print-through")
    assert opening(run, part)["open"]


def test_a_cup_that_only_the_print_makes_is_told(run: Runner, tmp_path: Path) -> None:
    bench = tmp_path / "bench.json"
    write_profile(bench, replace(Profile("Wide light"), blur_mm=0.4))
    part = boxed(tmp_path, bodies.rod((0, 0, -12), (0, 0, -6), 0.4, 64))
    report = run("inspect", part, "--json", "--profile", bench).json
    assert report["cavities"][0]["cups"] == []  # in the model air has a way out from the first layer on
    (cup,) = report["as_printed"]["cups"]
    assert (cup["cavity"], cup["cup"]) == ("A", None)
    assert (cup["nominal_state"], cup["printed_state"], cup["to_height_mm"]) == ("breathing", "sealed", None)
    assert cup["from_height_mm"] == pytest.approx(2.0, abs=0.11)
    # At a straight wall the blurred light of all layers (Dp 0.1, E/Ec 4) cures up to where its dose falls to Ec.
    through = math.exp(-0.05 / 0.1)
    dose = 4.0 * math.sqrt(through) / (1.0 - through)
    wide = 16.0 - 2.0 * 0.4 * NormalDist().inv_cdf(1.0 - 1.0 / dose)
    assert cup["peak_area_mm2"] == pytest.approx(wide**2, rel=0.015)
    assert 15.0 * wide**2 < cup["sealed_volume_mm3"] < 16.1 * wide**2
    open_ = boxed(tmp_path, bodies.rod((0, 0, -12), (0, 0, -6), 1.5, 64))
    assert run("inspect", open_, "--json").json["as_printed"]["cups"] == []


def test_cups_as_printed_are_those_with_the_vents(run: Runner, tmp_path: Path) -> None:
    part = boxed(tmp_path)
    (closed,) = run("inspect", part, "--json").json["as_printed"]["cups"]
    assert (closed["nominal_state"], closed["printed_state"]) == ("sealed", "sealed")
    done = run("vent", part, "--out", tmp_path / "out.stl", "--json")
    (open_,) = done.json["as_printed"]["cups"]
    assert (open_["cavity"], open_["cup"], open_["nominal_state"], open_["printed_state"]) == (
        "A", "A1", "breathing", "breathing",
    )  # fmt: skip


def test_a_vent_that_prints_closed_is_left_to_do_with_a_size_that_would_not(run: Runner, tmp_path: Path) -> None:
    bench = tmp_path / "bench.json"
    write_profile(bench, replace(Profile("Wide light"), blur_mm=0.4))
    done = run(
        "vent", boxed(tmp_path), "--out", tmp_path / "out.stl", "--diameter", "0.8", "--profile", bench, "--json"
    )
    assert done.code == 3
    vents, printed = done.json["vents"], done.json["as_printed"]["vents"]
    assert len(vents) == len(printed)
    assert not any(one["open"] for one in printed)
    closed = [text for text in done.json["left"] if "prints closed (bleed)" in text]
    assert len(closed) == len(vents)
    assert all("would print open there" in text for text in closed)
    cups = done.json["flow"]["cups_after_as_printed"]
    assert cups[0]["capped"]
    assert not done.json["flow"]["cups_after"][0]["capped"]


def test_the_words_tell_how_wide_the_vents_print(run: Runner, tmp_path: Path) -> None:
    text = run("vent", boxed(tmp_path), "--out", tmp_path / "out.stl").out
    assert "As printed (an estimate that rests on the profile):" in text
    assert "pixel 0.05 mm, layer 0.05 mm" in text
    for line in (line for line in text.splitlines() if line.startswith(("1     2.5 mm", "2     2.5 mm"))):
        assert 2.0 < float(line.split()[3]) < 2.5


@pytest.mark.long
def test_the_widths_of_a_part_with_too_many_pixels_for_the_memory_are_told_all_the_same(
    run: Runner, tmp_path: Path
) -> None:
    part = tmp_path / "tray.stl"
    bodies.cut(bodies.box((300.0, 300.0, 16.0)), bodies.box((294.0, 294.0, 10.0))).export(part)
    done = run("vent", part, "--out", tmp_path / "out.stl", "--pitch", "0.5", "--json")
    assert done.code in (0, 3)
    report = done.json
    vents, printed = report["vents"], report["as_printed"]["vents"]
    assert len(vents) == len(printed) > 0
    for vent, one in zip(vents, printed, strict=True):
        assert one["open"]
        assert vent["diameter_mm"] - 0.4 < one["printed_mm"] < vent["diameter_mm"]
    (note,) = [text for text in report["as_printed"]["assumptions"] if "million pixels" in text]
    assert note.startswith("36 million pixels lie under this part, more than fit in memory")
    assert report["as_printed"]["cups"] != []
