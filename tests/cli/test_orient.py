"""`ventplanner orient`: what it prints, in words and as JSON, and that other jobs say the same of an orientation."""

from __future__ import annotations

from pathlib import Path

import bodies
import numpy as np
import pytest
from command_line import Runner
from json_contract import orient_problems

FAST = ("--pitch", "0.6", "--candidates", "2")


@pytest.fixture(scope="module")
def cup(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cup of 30 x 30 x 40 mm, open at its top, with walls of 3 mm: the mouth away from the plate, it needs a vent."""
    path = tmp_path_factory.mktemp("orient") / "cup.stl"
    bodies.cut(bodies.block((-15, -15, 0), (15, 15, 40)), bodies.block((-12, -12, 3), (12, 12, 50))).export(path)
    return path


def test_the_json_is_as_documented_and_the_other_jobs_agree(run: Runner, cup: Path, tmp_path: Path) -> None:
    report = run("orient", cup, "--json", *FAST).json
    assert orient_problems(report) == []
    assert report["pitch_mm"] == 0.6
    assert (report["present"]["vents"], report["present"]["on"]) == (1, "supports")
    first = report["candidates"][0]
    assert (first["vents"], first["sealed_mm3"]) == (0, 0.0)
    assert len(report["candidates"]) == 2
    assert len(report["map"]["vents"]) == len(report["map"]["to_plate"]) > 300
    for one in (report["present"], first):
        how = ("--to-plate", ",".join(map(repr, one["to_plate"])), "--on", one["on"], "--pitch", "0.6")
        out = tmp_path / f"vented-{one['vents']}.stl"
        vented = run("vent", cup, "--out", out, "--json", *how).json
        assert one["vents"] == len(vented["vents"])
        flows = vented["flow"]["cups_after"]
        assert one["peak_suction_pa"] == pytest.approx(max((c["peak_suction_pa"] for c in flows), default=0.0))
        curve = vented["sealed_area"]
        assert one["sealed_area_mm2"] == pytest.approx(max(curve["area_mm2"]))
        assert one["sealed_mm3"] == pytest.approx(np.trapezoid(curve["area_mm2"], curve["height_mm"]), abs=0.01)
        assert one["seen"] == pytest.approx(sum(v["figures"]["seen_share"] for v in vented["vents"]))  # of one hole
        assert one["height_mm"] == pytest.approx(curve["height_mm"][-1] + (5.0 if one["on"] == "supports" else 0.0))
        ceilings = sum(c["area_mm2"] for c in vented["inside"]["ceilings"])
        assert one["overhang_mm2"] == pytest.approx(ceilings, abs=1e-3)


def test_in_words_it_tells_a_row_for_each_and_how_to_use_it(run: Runner, cup: Path) -> None:
    done = run("orient", cup, *FAST, "--resting", "plate")
    assert (done.code, done.err) == (0, "")
    assert "directions tried" in done.out
    assert "None is chosen" in done.out
    assert "--on plate" in done.out
    assert "1200 mm2 flat" in done.out  # on its side, 30 x 40 mm: open from the first layer to the last


def test_bad_wishes_are_told(run: Runner, cup: Path) -> None:
    assert run("orient", cup, "--candidates", "0").code == 2
    assert run("orient", cup, "--resting", "table").code == 2
    assert run("orient", cup.with_name("none.stl")).code == 2
